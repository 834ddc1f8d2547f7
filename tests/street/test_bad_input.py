"""Bad input gets one coded line that says what to do; nothing half-written is left."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lapwright.core.errors import LapwrightError
from lapwright.services.atomic import write_made
from lapwright.services.casereport import case_lines
from lapwright.services.errors import OutputRefused
from lapwright.services.issuing import issue_case
from lapwright.services.judging import judge_case
from lapwright.services.programme import Programme

from .building import case_folder, edit, programme_in

AS_OF = date(2026, 3, 20)
Doc = dict[str, Any]


def _refused(folder: Path) -> str:
    with pytest.raises(LapwrightError) as refusal:
        judge_case(folder, as_of=AS_OF)
    line = str(refusal.value)
    assert "\n" not in line
    assert line.endswith(f"[{refusal.value.code}]")
    return line


def _joint(document: Doc) -> Doc:
    joint: Doc = document["coupons"][0]["joints"][0]
    return joint


def _set(*path: str | int, to: Any) -> Callable[[Doc], None]:
    def change(document: Doc) -> None:
        inner: Any = document
        for step in path[:-1]:
            inner = inner[step]
        inner[path[-1]] = to

    return change


def _drop(*path: str | int) -> Callable[[Doc], None]:
    def change(document: Doc) -> None:
        inner: Any = document
        for step in path[:-1]:
            inner = inner[step]
        del inner[path[-1]]

    return change


H1: tuple[str | int, ...] = ("coupons", 0, "joints", 0)
FACE: tuple[str | int, ...] = (*H1, "faces", 0)
CASES: dict[str, tuple[Callable[[Doc], None], str, str]] = {
    "a missing key": (_drop("roles", "certifier"), "CASE-002", "roles: missing key"),
    "an unknown key": (_set("basis", "edition", to="x"), "CASE-002", "unknown key: got edition"),
    "a length without unit": (
        _set(*H1, "overlap", to="0.36"),
        "CASE-002",
        "coupons[0].joints[0].overlap",
    ),
    "an overlap of nothing": (_set(*H1, "overlap", to="0 in"), "CASE-002", "above zero"),
    "a loupe without a step": (
        _set(*FACE, "readings", 0, "loupe", "resolution", to="0.0 mm"),
        "CASE-002",
        "above zero",
    ),
    "more oxygen than gas": (
        _set("coupons", 0, "purge", "oxygen", to="160 %"),
        "CASE-002",
        "nor above 100 %",
    ),
    "a decision rule that does not exist": (
        _set("basis", "decision_rule", to="mean"),
        "CASE-002",
        "one of simple, guarded",
    ),
    "a date of another form": (_set("written", "on", to="13.03.2026"), "CASE-002", "2026-03-04"),
    "a day that does not exist": (_set("written", "on", to="2026-02-30"), "CORE-002", "written.on"),
    "a cut before the braze": (
        _set(*H1, "cut", "on", to="2026-03-01"),
        "CASE-003",
        "cut.on: dates in the wrong order",
    ),
    "a bore look after the saw": (
        _set(*H1, "bore", "before_sawing", "on", to="2026-03-11"),
        "CASE-003",
        "before_sawing.on",
    ),
    "a reading before the face was prepared": (
        _set(*FACE, "readings", 0, "on", to="2026-03-10"),
        "CASE-003",
        "readings[0].on",
    ),
    "something after the folder was written": (
        _set("written", "on", to="2026-03-05"),
        "CASE-003",
        "wrong order",
    ),
    "a braze dated on another day": (
        _set("coupons", 0, "brazed", "on", to="2026-03-03"),
        "CASE-003",
        "brazed.started",
    ),
    "a person nobody listed": (
        _set("roles", "supervisor", to="nobody"),
        "CASE-004",
        "roles.supervisor",
    ),
    "an instrument nobody listed": (_set(*H1, "instrument", to="CAL-99"), "CASE-004", "CAL-99"),
    "one joint id twice": (_set("coupons", 0, "joints", 1, "id", to="H1"), "CASE-006", "H1"),
    "one coupon id twice": (_set("coupons", 1, "id", to="H"), "CASE-006", "coupons[1]"),
    "one face id twice": (_set(*H1, "faces", 1, "id", to="H1-1"), "CASE-006", "faces[1]"),
    "faces without a cut": (_drop(*H1, "cut"), "CASE-007", "faces without a cut"),
    "members of two sizes": (
        _set("coupons", 0, "fitting", "size", to="2"),
        "CASE-007",
        "do not fit",
    ),
    "an unknown size": (_set("coupons", 0, "tube", "size", to="7/8"), "REF-014", "tube.size"),
    "DN on copper tube": (_set("coupons", 0, "tube", "size", to="DN40"), "REF-013", "tube.size"),
    "an unknown tube standard": (
        _set("coupons", 0, "tube", "standard", to="B819"),
        "REF-010",
        "tube.standard",
    ),
    "a withdrawn fitting standard": (
        _set("coupons", 0, "fitting", "standard", to="MSS SP-73"),
        "REF-011",
        "ASME B16.50",
    ),
    "a mark of digits only": (_set("brazer", "mark", to="123456789"), "CORE-004", "brazer.mark"),
    "a mark with four digits in a row": (
        _set("brazer", "mark", to="AB1234"),
        "CORE-004",
        "government number",
    ),
    "a coupon mark that could be a government number": (
        _set("coupons", 0, "mark", to="123-45-6789"),
        "CORE-004",
        "coupons[0].mark",
    ),
    "one person under two ids": (
        lambda d: d["people"].update(b2={"name": "ACHTERBERG, Brindle", "role": "examiner"}),
        "CASE-007",
        "one name under two ids",
    ),
    "halves looked at before the cut": (
        _set(*H1, "bore", "opened", "on", to="2026-03-05"),
        "CASE-003",
        "bore.opened.on",
    ),
    "an edition that does not exist": (
        _set("basis", "editions", to=["nfpa-99 1999"]),
        "RULE-002",
        "nfpa-99 1999",
    ),
    "an unknown alloy": (_set("coupons", 0, "tube", "alloy", to="C99999"), "REF-", "C99999"),
    "an unknown filler": (_set("coupons", 0, "filler", "class", to="BCuP-55"), "REF-", "BCuP-5"),
    "a void longer than the overlap": (
        _set(*FACE, "readings", 0, "loupe", "unbrazed", to=["99 mm"]),
        "MEAS-018",
        "loupe",
    ),
    "an option that does not exist": (
        _set("basis", "options", "socket_of_one_coupling", to="two"),
        "CASE-002",
        "one of cup_allowance",
    ),
    "an option that is no length": (
        _set("basis", "options", "cup_allowance", to="lots"),
        "CASE-002",
        "cup_allowance",
    ),
    "a reproducibility in words": (
        _set("basis", "options", "s_reproducibility", to="one percent"),
        "CASE-002",
        "points of the overlap",
    ),
    "an item nobody knows": (_set(*H1, "visual", "items", "eroson", to="no"), "CASE-002", "eroson"),
    "a depth in words": (
        _set(*H1, "visual", "items", "erosion-depth", to="deep"),
        "CASE-002",
        "erosion-depth",
    ),
    "a photograph that is not there": (
        _set(*FACE, "readings", 0, to={"by": "teal", "on": "2026-03-12", "photo": "p/none.jpg"}),
        "CASE-005",
        "p/none.jpg",
    ),
    "a photograph outside the folder": (
        _set(*FACE, "readings", 0, to={"by": "teal", "on": "2026-03-12", "photo": "../x.jpg"}),
        "CASE-002",
        "inside the case folder",
    ),
    "photograph and loupe at once": (
        _set(*FACE, "readings", 0, "photo", to="photos/a.jpg"),
        "CASE-002",
        "either 'photo'",
    ),
}


@pytest.mark.parametrize("what", sorted(CASES))
def test_a_case_is_refused_with_one_line(tmp_path: Path, what: str) -> None:
    change, code, words = CASES[what]
    folder = case_folder(tmp_path)
    edit(folder, change)
    line = _refused(folder)
    assert f"[{code}" in line, line
    assert words in line, line


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "REF-"),
        ("case: [", "REF-"),
        ("- a\n- b\n", "CASE-002"),
        ("case: 1\ncase: 2\n", "REF-"),
        ("a: &x 1\nb: *x\n", "REF-"),
    ],
)
def test_a_file_that_is_no_case_is_refused(tmp_path: Path, text: str, code: str) -> None:
    (tmp_path / "case.yaml").write_text(text)
    assert f"[{code}" in _refused(tmp_path)


def test_a_folder_without_a_case_is_refused(tmp_path: Path) -> None:
    assert "[CASE-001]" in _refused(tmp_path)


def test_a_tick_with_another_figure_is_refused(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, _set("ticks", 0, "figure", to="0.30"), "booklet.yaml")
    assert "[CASE-008]" in _refused(folder)


def test_a_day_before_the_first_braze_is_refused(passed: Path) -> None:
    with pytest.raises(LapwrightError, match=r"2026-03-04 or later.*\[CASE-003\]"):
        judge_case(passed, as_of=date(2026, 3, 3))


def _bomb() -> bytes:
    """Return a PNG of a few hundred bytes that announces 100,000 x 100,000 pixels."""
    head = struct.pack(">IIBBBBB", 100_000, 100_000, 8, 2, 0, 0, 0)
    chunks = [(b"IHDR", head), (b"IDAT", zlib.compress(b"\0" * 1000)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(d)) + k + d + struct.pack(">I", zlib.crc32(k + d)) for k, d in chunks
    )


def _flat() -> bytes:
    import cv2

    return bytes(cv2.imencode(".png", np.full((900, 1400, 3), 127, np.uint8))[1])


FILES: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "text in place of a picture": (lambda _: b"not a picture at all", "MEAS-001"),
    "an empty file": (lambda _: b"", "MEAS-001"),
    "half a photograph": (lambda whole: whole[: len(whole) // 2], "MEAS-002"),
    "a picture that would fill the memory": (lambda _: _bomb(), "MEAS-003"),
}


@pytest.mark.parametrize("what", sorted(FILES))
def test_a_file_that_is_no_photograph_is_refused(tmp_path: Path, what: str) -> None:
    folder = case_folder(tmp_path, photos=(0,))
    photo = folder / "photos" / "h1-1.jpg"
    make, code = FILES[what]
    photo.write_bytes(make(photo.read_bytes()))
    assert f"[{code}]" in _refused(folder)


def test_ends_outside_the_picture_are_refused(tmp_path: Path) -> None:
    folder = case_folder(tmp_path, photos=(0,))
    edit(folder, _set(*FACE, "readings", 0, "cup_face", to=["99999", "10"]))
    assert "[MEAS-008]" in _refused(folder)


def test_a_photograph_of_nothing_is_filed_as_refused_and_held(tmp_path: Path) -> None:
    folder = case_folder(tmp_path, photos=(0,))
    (folder / "photos" / "h1-1.jpg").write_bytes(_flat())
    edit(
        folder,
        lambda d: d["coupons"][0]["joints"][0]["faces"][0]["readings"][0].update(
            tube_end=["300", "450"], cup_face=["1100", "450"]
        ),
    )
    face = judge_case(folder, as_of=AS_OF).judged.judgement.joints[0].faces[0]
    assert face.finding.message.id == "face.refused"


def test_an_open_case_yields_no_record_and_leaves_nothing(tmp_path: Path) -> None:
    folder = case_folder(tmp_path / "case")
    edit(folder, _drop("coupons", 0, "purge", "oxygen"))
    out, home = tmp_path / "out", programme_in(tmp_path / "home")
    with pytest.raises(LapwrightError, match=r"\[ISSUE-002\]"):
        issue_case(folder, home, as_of=AS_OF, out=out, at=datetime(2026, 3, 21, tzinfo=UTC))
    assert not out.exists()
    assert not list(home.log.entries(stream="register"))


def test_a_case_that_failed_whole_yields_no_record(tmp_path: Path) -> None:
    folder = case_folder(tmp_path / "case", oxide="oxide")
    with pytest.raises(LapwrightError, match=r"\[ISSUE-003\]"):
        issue_case(
            folder,
            programme_in(tmp_path / "home"),
            as_of=AS_OF,
            out=tmp_path / "out",
            at=datetime(2026, 3, 21, tzinfo=UTC),
        )


def test_papers_not_met_yields_no_record_and_says_so(tmp_path: Path) -> None:
    """An overlap under the procedure's floor, with every face sound."""
    folder = case_folder(tmp_path / "case")

    def longer(document: Doc) -> None:
        for record in document["procedure"]["pqr"]:
            record["overlap"] = "0.40 in"

    edit(folder, longer)
    told = list(case_lines(judge_case(folder, as_of=AS_OF)))
    assert told[1].startswith("□ Not met: the flow positions below passed, but the papers are Not")
    with pytest.raises(LapwrightError, match=r"Joint H1: Overlap .* \[ISSUE-005\]"):
        issue_case(
            folder,
            programme_in(tmp_path / "home"),
            as_of=AS_OF,
            out=tmp_path / "out",
            at=datetime(2026, 3, 21, tzinfo=UTC),
        )
    assert not (tmp_path / "out").exists()


def test_a_place_that_cannot_be_written_is_refused(
    tmp_path: Path, passed: Path, programme: Programme
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    with pytest.raises(LapwrightError, match=r"\[ISSUE-001\]"):
        issue_case(
            passed,
            programme,
            as_of=AS_OF,
            out=blocked / "out",
            at=datetime(2026, 3, 21, tzinfo=UTC),
        )
    assert blocked.read_text() == "in the way"


def test_the_ticks_of_the_demo_confirm_nothing_for_another_employer(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d.update(employer="Another Shop"))
    line = _refused(folder)
    assert "[CASE-008" in line, line
    assert "invented ticks" in line


def test_a_made_file_never_takes_the_name_of_other_evidence(tmp_path: Path) -> None:
    photo = tmp_path / "face.png"
    photo.write_bytes(b"evidence")
    for name in (photo, tmp_path / "face.jpg"):
        with pytest.raises(OutputRefused):
            write_made(name, b"made", suffix=".png", source=photo)
    assert photo.read_bytes() == b"evidence"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["face.png"]


def test_a_tick_of_a_rule_that_nobody_has_read_is_refused(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    rule = "asme-bpvc-ix/2023/specimens.sockets_of_one_coupling"
    tick = {"rule": rule, "figure": "unread", "copy": "2023"}
    edit(folder, lambda d: d["ticks"].append(tick), "booklet.yaml")
    line = _refused(folder)
    assert "[CASE-008]" in line
    assert "nobody has read" in line
