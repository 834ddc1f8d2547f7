"""Joint maps of a case folder: each joint's own faces, written whole, beside the decision."""

from __future__ import annotations

import json
import math
import os
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from lapwright.core.evidence import Evidence, Reading
from lapwright.reference.tube import tube
from lapwright.services.errors import CaseKeyRefused, ClockRefused, MapsInsideCase
from lapwright.services.jointfaces import clock_degrees, drawn_reading, map_faces
from lapwright.services.jointmap import draw_joint_map, file_names, joint_chart, write_joint_maps
from lapwright.services.judging import judge_case

from .building import AS_OF, case_folder, edit
from .conftest import Shell

DAY = date.fromisoformat(AS_OF)


def _evidence(folder: Path) -> Evidence:
    return judge_case(folder, as_of=DAY).judged.judgement.evidence


def _faces(document: dict[str, Any], joint: int = 0) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = document["coupons"][0]["joints"][joint]["faces"]
    return found


def _told(svg: bytes | str) -> list[str]:
    data = svg.encode() if isinstance(svg, str) else svg
    return [t.text for t in ElementTree.fromstring(data).iter("{http://www.w3.org/2000/svg}text")]


@pytest.fixture(scope="module")
def evidence(tmp_path_factory: pytest.TempPathFactory) -> Evidence:
    """A case by loupe: every face holds one placed run from 20 to 24 % of its overlap."""
    return _evidence(case_folder(tmp_path_factory.mktemp("maps")))


def test_judge_writes_one_drawing_a_joint_and_says_where(tmp_path: Path, shell: Shell) -> None:
    folder, out = case_folder(tmp_path), tmp_path / "new" / "maps"
    before = sorted((p, p.stat().st_mtime_ns) for p in folder.rglob("*"))
    result = shell.run("judge", folder, "--as-of", AS_OF, "--joint-maps", out)
    assert result.exit_code == 0
    names = sorted(os.listdir(out))
    assert names == ["joint-H1.svg", "joint-H2.svg", "joint-V1.svg", "joint-V2.svg"]
    assert all(str(out / name) in result.stdout for name in names)
    assert sorted((p, p.stat().st_mtime_ns) for p in folder.rglob("*")) == before


def test_the_json_document_is_the_same_with_and_without_maps(tmp_path: Path, shell: Shell) -> None:
    folder = case_folder(tmp_path)
    plain = shell.run("judge", folder, "--as-of", AS_OF, "--json")
    drawn = shell.run("judge", folder, "--as-of", AS_OF, "--json", "--joint-maps", tmp_path / "m")
    assert json.loads(drawn.stdout) == json.loads(plain.stdout)
    assert "joint-H1.svg" in drawn.stderr


def test_a_joint_shows_its_own_faces_only(evidence: Evidence) -> None:
    every = {f.id for f in evidence.faces}
    assert len(every) == 8
    for joint in evidence.joints:
        svg = draw_joint_map(evidence, joint.id)
        own = {f.id for f in joint.faces}
        assert {face for face in every if face in svg} == own


def test_a_face_of_another_joint_is_never_drawn_even_if_handed_in(evidence: Evidence) -> None:
    one, two = evidence.joints[:2]
    mixed = replace(one, faces=(*one.faces, *two.faces))
    assert [f.id for f in map_faces(mixed)] == [f.id for f in one.faces]


def test_stretches_run_from_the_mouth_in_millimetres(evidence: Evidence) -> None:
    face = map_faces(evidence.joints[0])[0]
    (stretch,) = face.stretches
    # typed: 1.8 to 2.2 mm from the tube end of 9.1 mm, so 6.9 to 7.3 mm from the mouth
    assert stretch.says == "6.9–7.3 mm"
    assert stretch.span.start == pytest.approx((9.1 - 2.2) / 9.1, abs=1e-4)
    assert face.angle_deg == 0.0


def test_the_way_round_the_tube_is_that_of_its_table(evidence: Evidence) -> None:
    joint = evidence.joints[0]
    notes = joint_chart(evidence, evidence.coupons[0], joint).notes
    od_mm = float(tube("ASTM B819", "1-1/2", type_="L").od.base)
    assert any(f"{math.pi * od_mm:.1f} mm long" in n for n in notes)
    assert any(f"without a cut is {math.pi * od_mm / 2:.1f} mm" in n for n in notes)


def test_a_case_without_clock_positions_stays_valid_and_says_so(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: [f.pop("clock") for f in _faces(d)])
    told = " ".join(_told(draw_joint_map(_evidence(folder), "H1")))
    assert "position round the tube not recorded" in told
    assert "o'clock" not in told


@pytest.mark.parametrize("clock", ["0", "13", "3:60", "24:00", "360 deg", "noon", "-3"])
def test_a_clock_position_that_is_none_refuses_the_case(tmp_path: Path, clock: str) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: _faces(d)[0].update(clock=clock))
    with pytest.raises(CaseKeyRefused, match="clock position"):
        _evidence(folder)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("12", 0.0),
        ("3", 90.0),
        ("03:00", 90.0),
        ("10:30", 315.0),
        ("12:30", 15.0),
        ("95 deg", 95.0),
    ],
)
def test_a_clock_position_is_an_angle(tmp_path: Path, text: str, degrees: float) -> None:
    assert clock_degrees(text) == degrees
    folder = case_folder(tmp_path)
    edit(folder, lambda d: _faces(d)[0].update(clock=text))
    assert map_faces(_evidence(folder).joints[0])[0].angle_deg == degrees


def test_clock_refused() -> None:
    for text in ("", "13", "360 deg", "3 pm"):
        with pytest.raises(ClockRefused):
            clock_degrees(text)


def test_maps_inside_case(tmp_path: Path, shell: Shell) -> None:
    folder = case_folder(tmp_path)
    link = tmp_path / "link"
    link.symlink_to(folder)
    for out in (folder, folder / "maps", link / "maps", folder / "x" / ".." / "maps"):
        result = shell.run("judge", folder, "--as-of", AS_OF, "--joint-maps", out)
        assert isinstance(result.exception, MapsInsideCase)
    assert not (folder / "maps").exists()


def test_an_unread_face_and_bare_lengths_are_said_not_drawn(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def change(document: dict[str, Any]) -> None:
        first, second = _faces(document)
        first["readings"] = []
        second["readings"][0]["loupe"]["unbrazed"] = ["0.9 mm"]

    edit(folder, change)
    faces = map_faces(_evidence(folder).joints[0])
    assert [f.way for f in faces] == ["unread", "unplaced"]
    assert not any(f.stretches for f in faces)
    told = _told(draw_joint_map(_evidence(folder), "H1"))
    assert {"N", "L"} <= set(told)


def test_a_joint_without_faces_is_named_and_not_drawn(evidence: Evidence, tmp_path: Path) -> None:
    coupon = evidence.coupons[0]
    bare = replace(coupon, joints=(replace(coupon.joints[0], faces=()), *coupon.joints[1:]))
    made = write_joint_maps(replace(evidence, coupons=(bare,)), tmp_path)
    assert made.without_faces == ("H1",)
    assert os.listdir(tmp_path) == ["joint-H2.svg"]
    assert "H1" in made.lines()[-1]


def test_file_names_stay_apart_and_inside_the_folder() -> None:
    names = file_names(["H1", "h1", "../../x", "a/b", "con", "A" * 300, "joint ü"])
    assert len({n.casefold() for n in names.values()}) == len(names)
    assert all(Path(n).name == n and n.isascii() and len(n) < 100 for n in names.values())


def _reading(share: str, **more: Any) -> Reading:
    import dataclasses
    from decimal import Decimal

    blank: dict[str, Any] = {f.name: "" for f in dataclasses.fields(Reading)}
    figures = {"share": Decimal(share), "u": Decimal("0.01"), "low": None, "high": None}
    return Reading(**{**blank, "segments": (), "ends": (), "on": DAY, **figures, **more})


def test_the_larger_of_the_readings_that_count_is_drawn() -> None:
    proposal = _reading("0.5", way="photo")
    small, large = _reading("0.1", way="loupe"), _reading("0.2", way="photo", accepted_by="teal")
    refused = replace(_reading("0.9", way="photo", accepted_by="teal"), refused="MEAS-012")
    assert drawn_reading([proposal, small, large, refused]) is large
    assert drawn_reading([proposal]) is proposal
    assert drawn_reading([refused]) is None
