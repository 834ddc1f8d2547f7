"""The printed record says what its data hold, contradicts itself nowhere and keeps to three pages.

Witnesses: poppler for the text of the pages, pikepdf for their number and size,
and the order of nominal sizes as the tube standards list them, typed here.
"""

from __future__ import annotations

import copy
import json
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import pikepdf
import pytest

from lapwright.core.outcomes import Outcome
from lapwright.documents.container import inspect_record
from lapwright.documents.sheets import RangeRow, RecordSheet
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.recordfile import RecordParts, parts_of
from lapwright.services.recordsheet import record_sheet
from lapwright.services.sealing import typeset
from unit.documents.witness import page_count, text_of, told_by

from .building import case_folder, programme_in

SIZES = ["1/4", "3/8", "1/2", "5/8", "3/4", "1", "1-1/4", "1-1/2"]
SIZES += ["2", "2-1/2", "3", "3-1/2", "4", "5", "6", "8"]
MOSTLY_OPEN = ((0.20, 0.55, "open"),)
Change = Callable[[dict[str, Any]], None]


def parts(path: Path) -> RecordParts:
    return parts_of(inspect_record(path.read_bytes(), trusted=[], moment=None), str(path))


@pytest.fixture(scope="module")
def whole(issued: Issued) -> RecordParts:
    return parts(issued.path)


@pytest.fixture(scope="module")
def in_part(tmp_path_factory: pytest.TempPathFactory) -> RecordParts:
    """One face of position D is mostly open: the record stands for C alone."""
    folder = tmp_path_factory.mktemp("in-part")
    case = case_folder(folder, voids={0: MOSTLY_OPEN})
    made = issue_case(
        case,
        programme_in(folder / "home"),
        as_of=date(2026, 3, 20),
        out=folder / "out",
        at=datetime(2026, 3, 21, tzinfo=UTC),
    )
    return parts(made.path)


def sheet(source: RecordParts, change: Change = lambda data: None) -> RecordSheet:
    """The sheet of a record after a change of its data."""
    data = copy.deepcopy(dict(source.data))
    change(data)
    return record_sheet(data, source.rules, source.issue, source.overlays, "0" * 64)


def brazed(data: dict[str, Any]) -> list[dict[str, Any]]:
    return [a["body"] for a in data["acts"] if a["type"] == "CouponBrazed"]


def basis(data: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = next(a["body"] for a in data["acts"] if a["type"] == "BasisAdopted")
    return found


def facts(printed: RecordSheet) -> dict[str, str]:
    return {fact.label: fact.value for fact in printed.facts}


def unfolded(printed: RecordSheet) -> Iterator[tuple[tuple[str, str, str, str], Outcome]]:
    """Read the printed rows as a person does: a run covers all sizes between its ends."""
    for row in printed.ranges:
        yield from unfolded_row(row)


def unfolded_row(row: RangeRow) -> Iterator[tuple[tuple[str, str, str, str], Outcome]]:
    for run in row.size.split(", "):
        first, _, last = run.partition(" to ")
        sizes = SIZES[SIZES.index(first) : SIZES.index(last or first) + 1]
        standard, _, types = row.tube.rpartition("B819 ")
        for size in sizes:
            for type_ in types.split(", "):
                for position in row.positions.split(", "):
                    key = (size, f"{standard}B819 {type_}", row.fitting, position)
                    yield key, row.decision.outcome


@pytest.mark.parametrize("name", ["whole", "in_part"])
def test_no_size_stands_in_two_rows_of_one_fitting_tube_and_position(
    name: str, request: pytest.FixtureRequest
) -> None:
    printed = list(unfolded(sheet(request.getfixturevalue(name))))
    assert [key for key, times in Counter(k for k, _ in printed).items() if times > 1] == []


@pytest.mark.parametrize("name", ["whole", "in_part"])
def test_the_printed_rows_say_of_every_size_what_the_data_say(
    name: str, request: pytest.FixtureRequest
) -> None:
    source = request.getfixturevalue(name)
    told = {
        (size, tube, fitting.removesuffix(" ‡"), position): outcome.value
        for (size, tube, fitting, position), outcome in unfolded(sheet(source))
    }
    held = {
        (row["size"], row["tube"], row["fitting"], position): row["outcome"]
        for row in source.data["range"]["sizes"]
        for position in row["positions"]
    }
    assert told == held


def test_a_record_in_part_says_which_position_failed_and_why(in_part: RecordParts) -> None:
    printed = sheet(in_part)
    assert printed.decision.word == "Met in flow position C only, not met in D"
    reasons = {row.position[:1]: row.reason for row in printed.positions}
    assert "Face H1-1" in reasons["D"]
    assert "over the limit of 20.0 %" in reasons["D"]
    assert "Face" not in reasons["C"]


def test_runs_of_sizes_leave_out_what_lies_between(whole: RecordParts) -> None:
    rows = {
        (r.decision.word, r.reason[:12]): r.size for r in sheet(whole).ranges if "50" in r.fitting
    }
    assert rows["Covered", "Every variab"] == "5/8 to 2"
    assert rows["Not covered", "Not in the a"] == "1/4 to 1/2"
    assert rows["Not covered", "Wall out of "] == "5 to 8"


def test_every_refused_size_keeps_its_own_limit(whole: RecordParts) -> None:
    """Read back as a person does: the sizes before a colon share what stands behind it."""
    held = {
        (r["size"], r["tube"], r["fitting"], p): r["rule"]
        for r in whole.data["range"]["sizes"]
        for p in r["positions"]
        if r["outcome"] == "not-met"
    }
    told = {}
    for row in sheet(whole).ranges:
        if row.decision.outcome is not Outcome.NOT_MET:
            continue
        parts = row.reason.split("; ")
        pairs = [part.rpartition(": ") for part in parts] if len(parts) > 1 else []
        for sizes, _, limit in pairs or [(row.size, "", row.reason)]:
            one = replace(row, size=sizes, fitting=row.fitting.removesuffix(" ‡"))
            told |= {key: limit for key, _ in unfolded_row(one)}
    rules = {limit: {held[k] for k in told if told[k] == limit} for limit in set(told.values())}
    assert told.keys() == held.keys()
    assert rules == {
        "Not in the adopted table": {"range.adopted_table"},
        "Overlap over the ceiling": {"overlap.max_increase"},
        "Wall out of range": {"thickness.bands"},
    }


def test_open_lines_say_once_what_is_missing(whole: RecordParts) -> None:
    def unfiled(data: dict[str, Any]) -> None:
        for row in data["range"]["sizes"]:
            if row["outcome"] == "not-met":
                name = f"{row['size']} {row['tube'][-1]} {row['fitting']} B"
                row.update(outcome="undetermined", why="needs-data")
                row["reason"] = f"joint {name}: the rule asks for 'fitting wall'."

    rows = [r for r in sheet(whole, unfiled).ranges if r.decision.outcome is Outcome.UNDETERMINED]
    assert {r.reason for r in rows} == {"The rule asks for 'fitting wall'"}
    assert len(rows) == 2


def test_lengths_stand_in_both_units_the_measured_one_first(whole: RecordParts) -> None:
    def metric(data: dict[str, Any]) -> None:
        for row in data["range"]["variables"]:
            if row["variable"] == "Overlap, floor":
                row.update(actual="6.8 mm, 6.9 mm", qualified="≥ 0.26 in")

    rows = {v.variable: (v.actual, v.qualified) for v in sheet(whole, metric).variables}
    assert rows["Overlap, floor"] == (
        "6.8 mm (0.268 in), 6.9 mm (0.272 in)",
        "≥ 0.260 in (6.60 mm)",
    )
    # the loupe read 9.1 mm, less than the 0.360 in of the calliper: the smaller one counts
    assert rows["Overlap, ceiling"][1] == "C, D: ≤ 0.447 in (11.4 mm)"
    overlaps = {f.overlap for f in sheet(whole).faces}
    assert overlaps <= {"9.14 mm (0.360 in)", "9.15 mm (0.360 in)", "9.1 mm (0.358 in)"}
    assert len(overlaps) == 2


def test_marks_are_explained_on_the_page_where_they_first_stand(issued: Issued) -> None:
    pdf = issued.path.read_bytes()
    first = told_by("pdftotext", "-f", "1", "-l", "1", "-layout", "FILE", "-", pdf=pdf)
    assert "† The paragraph is carried from an older edition" in first
    second = told_by("pdftotext", "-f", "2", "-l", "2", "-layout", "FILE", "-", pdf=pdf)
    assert "two dashed lines and U unbrazed" in " ".join(second.split())
    assert "H1-1: " in second


def test_topics_are_words_of_the_trade_and_name_no_edition_that_is_not_adopted(
    whole: RecordParts,
) -> None:
    printed = sheet(whole)
    assert "proof of skill" in printed.findings[0].finding
    assert not any("2012" in row.citation for row in printed.findings)


def test_the_order_of_the_rows_in_the_data_does_not_change_the_printed_list(
    whole: RecordParts,
) -> None:
    backwards = sheet(whole, lambda d: d["range"]["sizes"].reverse())
    assert set(unfolded(backwards)) == set(unfolded(sheet(whole)))


def test_the_page_shows_materials_brazing_and_examinations(issued: Issued) -> None:
    text = text_of(issued.path.read_bytes())
    for words in (
        "Joint clearance H1, H2, V1, V2: 0.004 in (0.10 mm)",
        "1-1/2 ASTM B819 type L, alloy C12200, wall 0.060 in (1.52 mm)",
        "1-1/2 ASME B16.50 coupling, alloy C12200, wall 0.048 in (1.22 mm)",
        "TB, manual, socket joint, fuel acetylene; filler AWS A5.8 BCuP-5 rod, flux none",
        "non-abrasive pad, lint-free white cloth",
        "Visual examination, then section test of 8 faces viewed at 10× (at least 4× asked)",
        "Outside examined H1, H2, V1, V2: BA 2026-03-09",
        "Oxide before sawing H1, H2, V1, V2: none, BA 2026-03-09",
        "Oxide, opened halves H1, H2, V1, V2: none, BA 2026-03-10",
        "Faces prepared H1, H2, V1, V2: TF 2026-03-11",
    ):
        assert words in text


def test_what_differs_between_coupons_or_joints_is_printed_apart(whole: RecordParts) -> None:
    def change(data: dict[str, Any]) -> None:
        first = brazed(data)[0]
        first["tube"]["alloy"] = "C10300"
        first["joints"][0]["clearance"] = "0.006 in"
        looks = [a["body"] for a in data["acts"] if a["type"] == "BoreExamined"]
        opened = [b for b in looks if b["stage"] == "opened"]
        opened[-1]["items"]["oxide"] = "present"

    told = facts(sheet(whole, change))
    assert told["Joint clearance"] == "H1: 0.006 in (0.15 mm); H2, V1, V2: 0.004 in (0.10 mm)"
    assert "H: 1-1/2 ASTM B819 type L, alloy C10300" in told["Tube"]
    assert "VA, VB: 1-1/2 ASTM B819 type L, alloy C12200" in told["Tube"]
    assert told["Oxide, opened halves"].endswith("; V2: present, BA 2026-03-10")


def test_a_filler_that_is_no_classification_of_the_specification_is_not_called_one(
    whole: RecordParts,
) -> None:
    def change(data: dict[str, Any]) -> None:
        for body in brazed(data):
            body["filler"]["class"] = "CuP 284"

    assert "filler CuP 284 rod" in facts(sheet(whole, change))["Brazing"]


def test_peel_specimens_are_named_in_the_form_of_the_test(whole: RecordParts) -> None:
    def change(data: dict[str, Any]) -> None:
        prepared = next(a for a in data["acts"] if a["type"] == "FacePrepared")
        peeled = {"specimen": "P1", "joint": "H1", "kind": "peel", "by": "teal"}
        data["acts"].append({**prepared, "type": "SpecimenTested", "body": peeled})

    told = facts(sheet(whole, change))
    assert told["Test"].endswith(", then peel test, specimens: 1")
    assert told["Specimens tested"] == "H1: peel, TF 2026-03-11"


def test_depths_from_memory_are_marked_and_only_those(whole: RecordParts) -> None:
    printed = sheet(whole)
    noted = {r["fitting"] for r in whole.data["range"]["sizes"] if r["note"]}
    marked = {r.fitting for r in printed.ranges if r.fitting.endswith("‡")}
    assert marked == {f"{fitting} ‡" for fitting in noted} == {"ASME B16.50 ‡"}
    assert "‡ Cup depths of ASME B16.50 stand in the table from memory" in printed.range_intro

    def known(data: dict[str, Any]) -> None:
        for row in data["range"]["sizes"]:
            row["note"] = ""

    plain = sheet(whole, known)
    assert "‡" not in plain.range_intro + "".join(r.fitting for r in plain.ranges)


def test_the_intro_says_how_depth_was_compared(whole: RecordParts) -> None:
    intro = sheet(whole).range_intro
    assert "table least depth plus the programme's allowance of 0.020 in" in intro
    assert "against the measured overlap of the coupon" in intro
    without = sheet(whole, lambda d: basis(d)["options"].pop("cup_allowance")).range_intro
    assert "a table depth alone never covers; measure the cup" in without
    assert "allowance" not in without


def test_the_supervisor_is_the_one_who_oversaw_the_brazing(whole: RecordParts) -> None:
    def other(data: dict[str, Any]) -> None:
        for body in brazed(data):
            body["supervisor"] = "teal"

    def both(data: dict[str, Any]) -> None:
        brazed(data)[1]["supervisor"] = "teal"

    def unnamed(data: dict[str, Any]) -> None:
        for body in brazed(data):
            body.pop("supervisor")

    def signing(printed: RecordSheet) -> list[str]:
        return [r.who for r in printed.signatures if r.role == "Session supervisor"]

    assert signing(sheet(whole, other)) == ["Teal Farrow"]
    assert facts(sheet(whole, other))["Session supervisor"] == "Teal Farrow"
    assert signing(sheet(whole, both)) == ["Osgood Pell", "Teal Farrow"]
    assert (
        facts(sheet(whole, both))["Session supervisor"] == "Osgood Pell (H, VB), Teal Farrow (VA)"
    )
    assert signing(sheet(whole, unnamed)) == ["Osgood Pell"]


def test_everybody_who_looked_or_read_has_a_line_to_sign(whole: RecordParts) -> None:
    looked = {
        whole.data["names"][a["body"].get("reader") or a["body"]["by"]]["name"]
        for a in whole.data["acts"]
        if a["type"] in ("FaceRead", "BoreExamined", "CouponExamined")
    }
    signing = [r.who for r in sheet(whole).signatures if r.role == "Examiner"]
    assert signing == ["Brindle Achterberg", "Teal Farrow"]
    assert set(signing) == looked


@pytest.mark.parametrize("name", ["whole", "in_part"])
def test_the_record_is_three_letter_pages_and_the_last_is_for_signing(
    name: str, request: pytest.FixtureRequest
) -> None:
    source: RecordParts = request.getfixturevalue(name)
    picture = next(iter(request.getfixturevalue("whole").overlays.values()))
    every = {face["face"]: picture for face in source.data["decision"]["faces"]}
    pdf = typeset(source.data, source.rules, source.issue, every)
    assert page_count(pdf) == 3
    with pikepdf.open(BytesIO(pdf)) as document:
        assert {tuple(float(v) for v in p.mediabox) for p in document.pages} == {(0, 0, 612, 792)}
    last = told_by("pdftotext", "-f", "3", "-layout", "FILE", "-", pdf=pdf)
    assert last.lstrip().startswith("Signatures")
    for heading in ("Acceptance by a later employer", "How to check this record", "Cautions"):
        assert heading in last
    assert "Sizes and fittings" in told_by("pdftotext", "-f", "2", "-l", "2", "FILE", "-", pdf=pdf)


def test_a_record_without_the_newer_fields_is_printed_still(whole: RecordParts) -> None:
    def older(data: dict[str, Any]) -> None:
        for body in brazed(data):
            for name in ("cleaning", "purge", "supervisor", "fuel", "process", "manner"):
                body.pop(name, None)
            for member in ("tube", "fitting"):
                body[member].pop("alloy")
            for joint in body["joints"]:
                joint.pop("clearance")
        for row in data["range"]["sizes"]:
            row.pop("note")
        for act in data["acts"]:
            if act["type"] == "FacePrepared":
                act["body"].pop("magnification")
                act["body"].pop("by")

    told = facts(sheet(whole, older))
    assert told["Joint clearance"] == "H1, H2, V1, V2: –"
    assert "alloy –" in told["Tube"]
    assert "viewed at –" in told["Test"]


def test_the_sheet_is_made_of_the_attached_data_alone(whole: RecordParts) -> None:
    before = json.dumps(whole.data, sort_keys=True)
    assert sheet(whole) == sheet(whole)
    assert json.dumps(whole.data, sort_keys=True) == before
