"""The joints of a job: confirmed columns, every bad row told, good rows kept, like joints split."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.core.errors import LapwrightError
from lapwright.services.errors import (
    JointFileRefused,
    JointLinesRefused,
    JointsEmpty,
    MappingNotConfirmed,
    MappingRefused,
)
from lapwright.services.jointclasses import classes_of
from lapwright.services.jointlist import (
    JobRow,
    JointList,
    open_joints,
    read_joint_list,
    write_joints,
)
from lapwright.services.jointmapping import mapping_beside

from .conftest import Shell
from .coverwork import columns, east_wing

HEADS = "Joint,Qty,Exception of,Part,Size,Tube type,Fitting,Fitting metal,Overlap,Filler,Flux,Flow"
ROW = "J1,4,,coupling,1/2,L,ASME B16.50,copper,,BCuP-5,none,D"
COLUMNS = """schema: lapwright-joint-columns/1
columns: {{id: Joint, count: Qty, of: Exception of, part: Part, size: Size, type: Tube type,
  fitting: Fitting, fitting_metal: Fitting metal, overlap: Overlap, filler: Filler, flux: Flux,
  position: Flow}}
constants: {{tube: "{tube}", tube_metal: copper, process: TB, manner: manual, form: rod,
  joint_type: socket}}
size_system: {system}
units: {{overlap: in}}
dates: year-month-day
decimal: {decimal}
metals: {{copper: C12200, bronze: C83600}}
confirmed: {{by: tl, on: 2026-03-19}}
"""


def _list(folder: Path, *rows: str, system: str = "nominal", decimal: str = "point") -> Path:
    path = folder / "joints.csv"
    path.write_text("\n".join([HEADS, *rows]) + "\n", "utf-8")
    told = COLUMNS.format(tube="ASTM B819", system=system, decimal=decimal)
    mapping_beside(path).write_text(told, "utf-8")
    return path


def _reasons(folder: Path, *rows: str) -> list[tuple[int, str, str]]:
    return [(f.row, f.column, f.reason) for f in read_joint_list(_list(folder, *rows)).faults]


def test_a_workbook_is_read_and_what_the_spreadsheet_spoiled_is_told(tmp_path: Path) -> None:
    found = read_joint_list(east_wing(tmp_path))
    assert [r.row for r in found.rows] == [3, 4, 5, 6, 7, 8, 9, 10, 11, 16]
    told = {f.row: (f.column, f.reason) for f in found.faults}
    assert set(told) == {12, 13, 14, 15, 17}
    assert told[12][0] == "Size"
    assert "made a date of it (2026-03-04)" in told[12][1]
    assert "DN is no size" in told[13][1]
    assert "words are not translated" in told[14][1]
    assert "BCuP-5" in told[15][1]
    assert "formula without a stored result" in told[17][1]
    assert found.missing == ("gauges", "switches", "alarms")
    assert {r.id: r.texts["size"] for r in found.rows}["E-013"] == "3/4"  # 0.75 as a number
    assert {r.id: r.texts.get("date") for r in found.rows}["E-013"] == "2026-03-18"


def test_an_exception_takes_what_it_leaves_empty_and_its_count(tmp_path: Path) -> None:
    rows = {r.id: r for r in read_joint_list(east_wing(tmp_path)).rows}
    assert (rows["E-003"].count, rows["E-003a"].count) == (8, 2)
    assert rows["E-003a"].texts["overlap"] == "0.52 in"
    assert rows["E-003a"].texts["filler"] == "BCuP-5"
    over = _reasons(tmp_path, ROW, "J2,5,J1,,,,,,,,,C")
    assert over == [(3, "count", "5 joints, but only 4 are left in 'J1'")]
    assert _reasons(tmp_path, ROW, "J2,1,J9,,1,L,ASME B16.50,copper,,BCuP-5,none,D") == [
        (3, "of", "'J9' is no row above that could be read")
    ]


def test_sizes_by_outside_diameter_are_turned_exactly_also_for_exceptions(tmp_path: Path) -> None:
    """K-15: 5/8 in outside is nominal 1/2; an inherited size is not turned a second time."""
    rows = [ROW.replace(",1/2,", ",5/8,"), "J2,1,J1,,,,,,,,,C"]
    found = read_joint_list(_list(tmp_path, *rows, system="outside-inch"))
    assert [r.texts["size"] for r in found.rows] == ["1/2", "1/2"]
    refused = read_joint_list(
        _list(tmp_path, ROW.replace(",1/2,", ",1-1/4,"), ROW.replace("J1", "J3"))
    )
    assert [r.texts["size"] for r in refused.rows] == ["1-1/4", "1/2"]


def test_every_fault_of_a_row_is_told_with_its_column(tmp_path: Path) -> None:
    bad = "J2,x,,coupling,1/2,Z,ASME B16.50,steel,zero,BCuP-5,,D"
    told = _reasons(tmp_path, ROW, bad, ROW)
    assert {column for row, column, _ in told if row == 3} == {
        "Qty",
        "Tube type",
        "Fitting metal",
        "Overlap",
        "Flux",
    }
    assert (4, "id", "'J1' stands in row 2 already") in told


def test_a_makers_part_needs_its_cup_measured(tmp_path: Path) -> None:
    part = ROW.replace("ASME B16.50", "maker")
    assert "measure it" in _reasons(tmp_path, ROW, part.replace("J1", "J2"))[0][2]


def test_commas_stand_for_points_only_where_confirmed(tmp_path: Path) -> None:
    row = ROW.replace("copper,,", 'copper,"0,36",')
    found = read_joint_list(_list(tmp_path, row, decimal="comma"))
    assert found.rows[0].texts["overlap"] == "0.36 in"
    told = _reasons(tmp_path, ROW, row.replace("J1", "J2"))
    assert told[0][1] == "Overlap"


def test_unconfirmed_columns_are_proposed_shown_and_not_read(tmp_path: Path) -> None:
    path = east_wing(tmp_path)
    place = mapping_beside(path)
    place.unlink()
    with pytest.raises(MappingNotConfirmed):
        read_joint_list(path)
    told = place.read_text("utf-8")
    assert 'header_row: "2"' in told
    assert "size: 'Size'" in told
    with pytest.raises(MappingNotConfirmed, match="size_system"):
        read_joint_list(path)


def test_columns_that_do_not_fit_the_list_are_refused(tmp_path: Path) -> None:
    path = _list(tmp_path, ROW)
    columns(path, constants={"tube": "ASTM B819", "size": "1/2"})
    with pytest.raises(MappingRefused, match="fields given twice"):
        read_joint_list(path)
    columns(path, columns={"size": "Nominal"})
    with pytest.raises(MappingRefused, match="the list has not"):
        read_joint_list(path)


def test_a_file_that_is_no_list_is_refused(tmp_path: Path) -> None:
    for name, data in (("a.xlsx", b"PK\x03\x04"), ("a.csv", b"\xff\xfe"), ("a.pdf", b"%PDF")):
        path = tmp_path / name
        path.write_bytes(data)
        with pytest.raises(JointFileRefused):
            read_joint_list(path)
    with pytest.raises(JointFileRefused):
        read_joint_list(tmp_path / "none.csv")


def test_a_list_without_one_good_row_is_refused(tmp_path: Path) -> None:
    with pytest.raises(JointsEmpty, match="row 2, Flow"):
        read_joint_list(_list(tmp_path, ROW.replace(",D", ",flat")))


def test_joints_are_written_and_opened_alike_and_changed_lines_are_refused(tmp_path: Path) -> None:
    found = read_joint_list(east_wing(tmp_path))
    out = tmp_path / "joints.jsonl"
    write_joints(found, out)
    again = open_joints(out)
    assert again.rows == found.rows
    assert again.metals == found.metals
    out.write_text(out.read_text("utf-8").replace('"position"', '"posture"'), "utf-8")
    with pytest.raises(JointLinesRefused):
        open_joints(out)


def test_classes_do_not_depend_on_how_like_joints_are_written(tmp_path: Path) -> None:
    whole = classes_of(read_joint_list(_list(tmp_path, ROW)))
    rows = [ROW.replace("J1,4", f"J{n},{n}") for n in (1, 3)]
    split = classes_of(read_joint_list(_list(tmp_path, *rows)))
    assert [c.about for c in split] == [c.about for c in whole]


@settings(max_examples=25, deadline=None)
@given(st.permutations(range(6)), st.lists(st.integers(1, 9), min_size=6, max_size=6))
def test_order_and_splitting_of_rows_change_no_class(order: list[int], counts: list[int]) -> None:
    base = {"tube": "ASTM B819", "type": "L", "fitting": "ASME B16.50", "filler": "BCuP-5"}
    kinds = [("1/2", "D"), ("1/2", "C"), ("2", "D"), ("1/2", "D"), ("2", "D"), ("1", "B")]
    rows = [
        JobRow(n, {**base, "size": s, "position": p, "count": str(c)})
        for n, ((s, p), c) in enumerate(zip(kinds, counts, strict=True))
    ]
    first = classes_of(JointList("x", tuple(rows)))
    again = classes_of(JointList("x", tuple(rows[i] for i in order)))
    assert [c.about for c in first] == [c.about for c in again]
    assert sum(c.about.count for c in first) == sum(counts)


def test_the_command_prints_one_document_and_refuses_in_one_line(
    tmp_path: Path, shell: Shell
) -> None:
    path = east_wing(tmp_path)
    done = shell.run("joints", "read", path, "--out", tmp_path / "j.jsonl", "--json")
    doc = json.loads(done.stdout)
    assert (doc["rows"], doc["joints"], len(doc["faults"])) == (10, 88, 5)
    assert doc["mapping"]["size_system"] == "nominal"
    mapping_beside(path).unlink()
    with pytest.raises(LapwrightError, match=r"\[JOINT-003\]"):
        read_joint_list(path)
