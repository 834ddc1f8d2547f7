"""The range is what every needed specimen serves, for one set of variables at a time."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.outcomes import Outcome
from lapwright.services.judging import Judged, judge_case
from lapwright.services.rangelist import variable_rows

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)
B16_50 = "ASME B16.50"


def _judged(folder: Path) -> Judged:
    confirm_all(folder)
    return judge_case(folder, as_of=AS_OF).judged


def _variable(judged: Judged, name: str) -> dict[str, str]:
    return next(r for r in variable_rows(judged) if r["variable"].startswith(name))


def _covered(judged: Judged, position: str) -> set[str]:
    return {
        s.size for s in judged.sizes if s.position == position and s.verdict.outcome is Outcome.MET
    }


def _overlap(joint: Doc, typed: str, face: str) -> None:
    joint["overlap"] = typed
    for row in joint["faces"]:
        row["readings"][0]["loupe"].update(overlap=face, unbrazed=["0.4 mm"])


def test_the_smaller_of_two_needed_specimens_sets_the_ceiling(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def apart(document: Doc) -> None:
        for number in (0, 1):
            document["coupons"][number]["fitting"]["cup_depth"] = "0.50 in"
        _overlap(document["coupons"][0]["joints"][0], "0.300 in", "7.62 mm")
        _overlap(document["coupons"][0]["joints"][1], "0.500 in", "12.7 mm")

    edit(folder, apart)
    judged = _judged(folder)
    assert judged.judgement.qualified == ("C", "D")
    assert "D: ≤ 0.375 in" in _variable(judged, "Overlap, ceiling")["qualified"]
    assert "2" not in _covered(judged, "D")  # its cup may be 0.42 in deep
    assert "2" in _covered(judged, "C")


def test_a_face_shorter_than_the_typed_overlap_sets_the_ceiling(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def longer(document: Doc) -> None:
        document["coupons"][0]["fitting"]["cup_depth"] = "0.42 in"
        for joint in document["coupons"][0]["joints"]:
            _overlap(joint, "0.41 in", "9.144 mm")

    edit(folder, longer)
    judged = _judged(folder)
    assert "D: ≤ 0.45 in" in _variable(judged, "Overlap, ceiling")["qualified"]
    assert "2-1/2" not in _covered(judged, "D")


def test_an_overlap_beyond_table_and_allowance_asks_for_the_measured_cup(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def deep(document: Doc) -> None:
        for joint in document["coupons"][0]["joints"]:
            _overlap(joint, "0.41 in", "10.41 mm")

    edit(folder, deep)
    judged = _judged(folder)
    assert judged.judgement.qualified == ("C",)
    far = [f for f in judged.judgement.findings if f.message.id == "measured.far"]
    assert "cup_depth" in dict(far[0].message.params)["expected"]
