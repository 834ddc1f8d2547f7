"""A wall eaten out on a photograph of a case holds the case until a person has looked."""

from __future__ import annotations

import json
import re
import shutil
from datetime import date
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from lapwright.cli.main import cli
from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.measure.drawing.eaten import Dip, eat
from lapwright.measure.synthetic import draw_demo_face
from lapwright.services.judging import judge_case

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)
FACE = draw_demo_face(((0.2, 0.24, "open"),), seed=3, width_px=1200, overlap_mm=9.144)
EATEN = eat(FACE.pixels, FACE.plan, Dip("tube", "outer", 0.6, 0.12, 6.0))


def _face(document: Doc) -> Doc:
    face: Doc = document["coupons"][0]["joints"][0]["faces"][0]
    return face


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return case_folder(tmp_path_factory.mktemp("drawn"), photos=(0,))


@pytest.fixture
def folder(drawn: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(drawn, tmp_path / "case"))


def _walls(folder: Path, pixels: np.ndarray, **said: str) -> list[Finding]:

    def change(document: Doc) -> None:
        face = _face(document)
        face.update(said)
        reading = face["readings"][0]
        cv2.imwrite(str(folder / reading["photo"]), pixels)
        reading["tube_end"] = [f"{v:.1f}" for v in FACE.tube_end]
        reading["cup_face"] = [f"{v:.1f}" for v in FACE.cup_face]
        reading["px_per_mm"] = f"{FACE.px_per_mm:.3f}"

    edit(folder, change)
    confirm_all(folder)
    judgement = judge_case(folder, as_of=AS_OF).judged.judgement
    return [f for f in judgement.findings if f.rule == "erosion.any" and f.subject.kind == "face"]


def test_a_wall_eaten_out_is_held_for_a_person(folder: Path) -> None:
    found = _walls(folder, EATEN)
    assert [(f.outcome, f.why) for f in found] == [(Outcome.UNDETERMINED, Why.HOLD)]
    (wall,) = re.findall(r"(\w+) (\S+) \((\S+) mm, > \S+ mm\)", found[0].observed)
    assert wall[0] == "tube"
    assert float(wall[1]) == pytest.approx(0.6, abs=0.05)
    assert float(wall[2]) * FACE.px_per_mm == pytest.approx(6, abs=1.5)


def test_a_person_who_looked_ends_the_hold(folder: Path) -> None:
    assert [f.outcome for f in _walls(folder, EATEN, erosion="no")] == [Outcome.MET]


def test_sound_walls_say_nothing(folder: Path) -> None:
    assert _walls(folder, FACE.pixels) == []


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    cv2.imwrite(str(tmp_path / "face.png"), EATEN)
    return tmp_path / "face.png"


def _run(photo: Path, *args: str) -> Any:
    ends = [f"{x:.1f},{y:.1f}" for x, y in (FACE.tube_end, FACE.cup_face)]
    given = ["face", str(photo), "--tube-end", ends[0], "--cup-face", ends[1], *args]
    return CliRunner().invoke(cli, given)


def test_face_tells_the_members_in_json_and_in_rows(photo: Path) -> None:
    plain = json.loads(_run(photo, "--no-members", "--json").stdout)
    document = json.loads(_run(photo, "--json").stdout)
    assert plain["members"] is None
    members = document["members"]
    assert members["tube"]["state"] == "raise"
    assert members["cup"]["state"] == "nothing-seen"
    assert len(members["tube"]["profile_px"]) == len(members["places"])
    assert {k: document[k] for k in plain if k != "members"} == {
        k: v for k, v in plain.items() if k != "members"
    }
    without, lines = (_run(photo, *a).stdout.splitlines() for a in (("--no-members",), ()))
    more = [line[:12].rstrip() for line in lines if line not in without]
    assert more == ["Clearance", "Look at", "Nothing seen"]
    assert any(line.startswith("Look at       wall of the tube at 0.6") for line in lines)


def test_the_sizes_of_the_tube_tell_the_axis(photo: Path) -> None:
    size = ("--tube-od-mm", "22.2", "--tube-wall-mm", f"{FACE.plan.wall_tube_mm:.3f}")
    scaled = json.loads(_run(photo, "--px-per-mm", f"{FACE.px_per_mm:.3f}", *size, "--json").stdout)
    by_wall = scaled["members"]["off_axis"]["by_wall"]
    assert by_wall["state"] == "not-told-from-the-axis"
    assert by_wall["apparent_wall_mm"] == pytest.approx(FACE.plan.wall_tube_mm, abs=0.02)
    assert scaled["members"]["off_axis"]["by_width"] is None
    walls = scaled["besides"]["sound"]["three_walls"]
    assert walls["wall_mm"] == scaled["members"]["off_axis"]["tube_wall_mm"]


def test_a_wall_alone_sets_the_sound_length_beside_three_of_it(photo: Path) -> None:
    args = ("--overlap-mm", "9.144", "--tube-wall-mm", "1.1", "--json")
    document = json.loads(_run(photo, *args).stdout)
    sound = document["besides"]["sound"]
    assert sound["three_walls"]["three_walls_mm"] == pytest.approx(3.3)
    assert sound["three_walls"]["from_mouth_walls"] * 1.1 == pytest.approx(
        sound["from_mouth"]["mm"]
    )
    assert document["members"]["off_axis"] is None


@pytest.mark.parametrize("od", [(), ("--tube-od-mm", "22.2")])
def test_off_axis_needs_scale(photo: Path, od: tuple[str, ...]) -> None:
    result = _run(photo, *od, "--tube-wall-mm", "1.1", "--json")
    assert result.exit_code == 1
    assert json.loads(result.stdout)["code"] == "MEAS-071"


@pytest.mark.parametrize(
    "args", [("--tube-od-mm", "22"), ("--no-members", "--tube-od-mm", "22", "--tube-wall-mm", "1")]
)
def test_sizes_that_go_with_nothing_are_wrong_usage(photo: Path, args: tuple[str, ...]) -> None:
    assert _run(photo, *args).exit_code == 2
