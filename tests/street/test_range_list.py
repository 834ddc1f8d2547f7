"""The range is what every needed specimen serves, for one set of variables at a time."""

from __future__ import annotations

import copy
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.outcomes import Outcome, Subject, Why
from lapwright.core.quantities import length
from lapwright.rules.joblist import ListedSize
from lapwright.rules.procedure import judge_unequal_walls
from lapwright.rules.rulebook import Adopted, load_edition
from lapwright.services.casefolder import open_case
from lapwright.services.judging import Judged, JudgedCase, judge_case
from lapwright.services.rangelist import range_lines, range_rows, variable_rows
from lapwright.services.recorddata import record_data
from lapwright.services.recordsheet import range_table

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


def _typed(tmp_path: Path, typed: str, face: str) -> Judged:
    folder = case_folder(tmp_path)

    def longer(document: Doc) -> None:
        document["coupons"][0]["fitting"]["cup_depth"] = "0.42 in"
        for joint in document["coupons"][0]["joints"]:
            _overlap(joint, typed, face)

    edit(folder, longer)
    return _judged(folder)


def test_a_face_shorter_than_the_typed_overlap_sets_the_ceiling(tmp_path: Path) -> None:
    """1.25 times 0.339 in would serve a cup of 0.42 in; the faces show 0.332 in."""
    judged = _typed(tmp_path / "typed", "0.339 in", "8.4328 mm")
    assert judged.judgement.qualified == ("C", "D")
    assert "D: ≤ 0.415 in" in _variable(judged, "Overlap, ceiling")["qualified"]
    assert "2" not in _covered(judged, "D")
    assert "2" in _covered(_typed(tmp_path / "seen", "0.339 in", "8.6106 mm"), "D")


def test_a_face_far_shorter_than_the_typed_overlap_supports_no_range(tmp_path: Path) -> None:
    judged = _typed(tmp_path, "0.41 in", "9.144 mm")
    assert judged.judgement.qualified == ("C",)
    held = [f for f in judged.judgement.findings if f.message.id == "stretch.apart"]
    assert {str(f.subject) for f in held} == {f"face H{j}-{n}" for j in (1, 2) for n in (1, 2)}
    assert {f.why for f in held} == {Why.HOLD}
    assert _covered(judged, "D") == set()
    assert "2-1/2" not in _covered(judged, "C")


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


@pytest.mark.parametrize(
    ("readings", "range_"),
    [
        (["S1"], "not asked by the readings of the basis"),
        (["S1", "S3"], "0.03 in – 0.12 in"),
        (["S5"], "0.024 in – 0.096 in"),
        (["S3", "S5"], "0.03 in – 0.096 in"),
    ],
)
def test_the_fitting_wall_is_printed_as_the_basis_judges_it(
    tmp_path: Path, readings: list[str], range_: str
) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["basis"].update(thickness_readings=readings))
    assert _variable(_judged(folder), "Fitting wall")["qualified"] == range_


def _ring_in_upflow(document: Doc, coupons: tuple[int, ...] = (1, 2)) -> None:
    for number in coupons:
        document["coupons"][number]["filler"]["form"] = "preplaced-ring"
    document["procedure"]["pqr"] += [
        copy.deepcopy(row) | {"id": f"{row['id']}R", "form": "preplaced-ring"}
        for row in document["procedure"]["pqr"]
    ]


def test_each_set_of_variables_has_its_own_rows_and_lines(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, _ring_in_upflow)
    judged = _judged(folder)
    assert judged.judgement.qualified == ("C", "D")
    assert _variable(judged, "Flow position (rod)")["qualified"] == "B, D"
    assert _variable(judged, "Flow position (preplaced-ring)")["qualified"] == "B, C"
    two = {
        (s.brazed, s.position, s.verdict.outcome)
        for s in judged.sizes
        if (s.size, s.tube_type, s.fitting) == ("1-1/2", "L", B16_50)
    }
    met, not_met = Outcome.MET, Outcome.NOT_MET
    assert two == {
        ("rod", "B", met),
        ("rod", "C", not_met),
        ("rod", "D", met),
        ("preplaced-ring", "B", met),
        ("preplaced-ring", "C", met),
        ("preplaced-ring", "D", not_met),
    }
    assert {r["brazed"] for r in range_rows(judged)} == {"rod", "preplaced-ring"}
    assert any("preplaced-ring" in line and "Covered" in line for line in range_lines(judged))


def test_coupons_brazed_with_two_forms_never_count_for_one_position(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: _ring_in_upflow(d, (1,)))
    found = {p.joints: p.verdict.outcome for p in _judged(folder).judgement.positions}
    assert found == {
        ("V1",): Outcome.NOT_MET,
        ("V2",): Outcome.NOT_MET,
        ("H1", "H2"): Outcome.MET,
    }


def test_a_printed_line_names_its_own_limiting_rule_only(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    judged = _judged(folder)
    data = record_data(JudgedCase(open_case(folder, as_of=AS_OF), judged), number="X", revision="1")
    rows = range_table(data, {"rows": []})
    out = [r for r in rows if r.decision.outcome is Outcome.NOT_MET]
    assert len(out) > 2
    assert not [r.reason for r in out if ";" in r.reason]


def test_covered_says_what_it_leaves_out(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["basis"].pop("range_tables"))
    judged = _judged(folder)
    text = "\n".join(range_lines(judged, covered_only="yes"))
    assert "Left out by --covered: open 20, not covered 44." in text


def _line(judged: Judged, size: str, tube: str, fitting: str, position: str) -> ListedSize:
    wanted = (size, tube, fitting, position)
    return next(s for s in judged.sizes if (s.size, s.tube_type, s.fitting, s.position) == wanted)


def test_a_table_minimum_alone_never_falls_short_of_the_floor(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)

    def floor(document: Doc) -> None:
        for row in document["procedure"]["pqr"]:
            row["overlap"] = "0.26 in"

    edit(folder, floor)
    line = _line(_judged(folder), "3/4", "L", B16_50, "D")  # 0.25 in by the table, real cups deeper
    assert line.verdict.outcome is Outcome.UNDETERMINED
    assert line.reason.message.id == "overlap.floor_measure_cup"
    assert _line(_judged(folder), "3/8", "L", B16_50, "D").verdict.outcome is Outcome.NOT_MET


def test_a_size_that_a_known_fact_refuses_is_not_asked_for_data(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["basis"].pop("range_tables"))
    judged = _judged(folder)
    for size, tube, fitting in (("1/2", "K", "ASME B16.22"), ("6", "K", B16_50)):
        assert _line(judged, size, tube, fitting, "D").verdict.outcome is Outcome.NOT_MET


def test_a_refusal_by_an_unconfirmed_rule_is_told_before_missing_data(tmp_path: Path) -> None:
    folder = case_folder(tmp_path)
    edit(folder, lambda d: d["basis"].pop("range_tables"))
    confirm_all(folder)
    unticked = ("overlap.max_increase", "position.covers", "thickness.bands")
    edit(
        folder,
        lambda d: d.update(
            ticks=[t for t in d["ticks"] if t["rule"].split("/")[-1] not in unticked]
        ),
        "booklet.yaml",
    )
    judged = judge_case(folder, as_of=AS_OF).judged
    for size, fitting in (("1/2", "ASME B16.22"), ("6", B16_50)):
        line = _line(judged, size, "K", fitting, "D")
        assert (line.verdict.why, line.verdict.act_on) == (Why.UNCONFIRMED, Outcome.NOT_MET)
        row = next(r for r in range_rows(judged) if (r["size"], r["fitting"]) == (size, fitting))
        assert row["reason"].startswith("Not covered once ")


def test_the_wall_of_one_member_can_refuse_without_the_other() -> None:
    adopted = Adopted((load_edition("asme-bpvc-ix", "2023"),), AS_OF)
    coupon, thick = length("0.045 in"), length("0.192 in")
    found = judge_unequal_walls(
        Subject("joint", "J"), (coupon, None), (thick, None), adopted=adopted
    )
    assert found.before_confirmation is Outcome.NOT_MET
    lacking = judge_unequal_walls(
        Subject("joint", "J"), (coupon, None), (coupon, None), adopted=adopted
    )
    assert dict(lacking.message.params)["field"] == "pqr.fitting_wall, range_tables.fitting_walls"


def test_the_order_of_coupons_in_the_file_changes_neither_answer_nor_reason(
    tmp_path: Path,
) -> None:
    def uneven(document: Doc) -> None:
        for joint in document["coupons"][0]["joints"]:
            _overlap(joint, "0.350 in", "8.9 mm")

    def turned(document: Doc) -> None:
        uneven(document)
        document["coupons"].reverse()

    rows = []
    for number, change in enumerate((uneven, turned)):
        folder = case_folder(tmp_path / str(number))
        edit(folder, change)
        rows.append(range_rows(_judged(folder)))
    assert rows[0] == rows[1]
