"""The joints of a job: a list read row by row, bad rows told, good rows kept.

Each bad row is told with its number, column and reason, and nothing is guessed for it. A row
may stand for N like joints; another row that names it under ``of`` is an exception: it takes
what it leaves empty from that row, and its count away from it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lapwright.reference.strictyaml import read_yaml

from .atomic import write_made
from .errors import JointFileRefused, JointLinesRefused, JointsEmpty, MappingRefused
from .jointcells import Fault, RowFault, checked, faults_of, texts_of
from .jointmapping import FIELDS, ColumnMap, load_mapping, mapping_beside, not_confirmed, propose
from .jointmapping import write_proposal as _propose
from .jointtable import Cell, Table, read_table
from .text import word

LINE = "lapwright-joint/1"
# What a list of pipes forgets: small sizes, copper to bronze (common practice, no source).
FORGOTTEN = {
    "outlets": ("outlet", "inlet", "terminal"),
    "valves": ("valve",),
    "gauges": ("gauge", "manometer"),
    "switches": ("switch", "transducer", "sensor"),
    "alarms": ("alarm",),
}


@dataclass(frozen=True)
class JobRow:
    """One row that could be read: field -> exact text, and its number in the list."""

    row: int
    texts: Mapping[str, str]

    @property
    def id(self) -> str:
        """The joint's own id, or its row."""
        return self.texts.get("id") or f"row {self.row}"

    @property
    def count(self) -> int:
        """How many like joints it stands for."""
        return int(self.texts.get("count", "1"))


@dataclass(frozen=True)
class JointList:
    """Rows of a joint list, what could not be read, and what a list usually forgets.

    ``metals`` says which alloy each metal word of the rows stands for.
    """

    name: str
    rows: tuple[JobRow, ...]
    faults: tuple[Fault, ...] = ()
    missing: tuple[str, ...] = ()
    mapping: ColumnMap | None = None
    metals: Mapping[str, str] = field(default_factory=dict)

    @property
    def joints(self) -> int:
        """Number of joints behind the rows."""
        return sum(r.count for r in self.rows)

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""
        return {
            "list": self.name,
            "rows": len(self.rows),
            "joints": self.joints,
            "mapping": self.mapping.as_dict() if self.mapping else {},
            "faults": [f.as_dict() for f in self.faults],
            "asked": [word(f"joints.ask.{name}") for name in self.missing],
        }

    def lines(self) -> Iterator[str]:
        """Yield the answer as lines for a terminal."""
        yield word("joints.read", rows=str(len(self.rows)), joints=str(self.joints))
        if self.mapping:
            yield from self.mapping.lines()
        if self.faults:
            yield word("joints.faults", rows=str(len({f.row for f in self.faults})))
            yield from (
                word("joints.fault", row=str(f.row), column=f.column or "–", reason=f.reason)
                for f in self.faults
            )
        if self.missing:
            yield word("joints.asked")
            yield from (f"  {word(f'joints.ask.{name}')}" for name in self.missing)


def read_joint_list(path: Path, *, mapping: Path | None = None) -> JointList:
    """Read a list of joints with its confirmed columns.

    Parameters
    ----------
    path : Path
        CSV or XLSX.
    mapping : Path, optional
        The file of columns; beside the list otherwise. Where there is none, a proposal is
        written there and the list is not read.

    Raises
    ------
    LapwrightError
        For a file, a mapping or a list that cannot be used; bad rows are no refusal.
    """
    place = mapping or mapping_beside(path)
    if not place.exists():
        _propose(place, *_likely_heads(path))
        raise not_confirmed(place, "everything: a proposal was just written there")
    sheet, header_row = _where(place)
    table = read_table(path, sheet=sheet, header_row=header_row)
    return _read(table, load_mapping(place, table.heads))


def _likely_heads(path: Path) -> tuple[Table, int]:
    """Return the list as read from the row, of the first ten, whose heads say the most."""
    found: list[tuple[int, int, Table]] = []
    for number in range(1, 11):
        try:
            table = read_table(path, header_row=number)
        except JointFileRefused:  # an empty row is no row of heads
            continue
        found.append((len(propose(table.heads)), -number, table))
    if not found:
        return read_table(path), 1
    _, number, table = max(found, key=lambda f: f[:2])
    return table, -number


def _where(place: Path) -> tuple[str, int]:
    """Return sheet and row of heads that a file of columns names, before it is checked."""
    doc = read_yaml(place)
    held = doc if isinstance(doc, dict) else {}
    row = str(held.get("header_row", "1"))
    if not row.isdecimal():
        raise MappingRefused(
            "not a row number",
            got=row,
            where=f"{place}: header_row",
            expected="a whole number from 1",
            do="Name the row that holds the heads.",
        )
    return str(held.get("sheet", "")), int(row)


def _read(table: Table, mapping: ColumnMap) -> JointList:
    """Read every row; exceptions are taken off the rows they name."""
    faults: list[Fault] = []
    found: dict[str, JobRow] = {}
    raw: dict[str, dict[str, str]] = {}
    for number, cells in table.rows:
        named = dict(zip(table.heads, cells, strict=False))
        base = raw.get(_of(named, mapping), {})
        try:
            texts = texts_of(named, mapping, base)
        except RowFault as fault:
            faults.append(_fault(number, fault, mapping))
            continue
        bad = [_fault(number, f, mapping) for f in faults_of(texts, mapping)]
        if not bad:
            row = JobRow(number, checked(texts, mapping))
            bad = _takes(row, found)
        if not bad:
            found[row.id] = row
            raw[row.id] = texts  # as written: what an exception inherits is read once
        faults += bad
    if not found:
        raise _empty(table, faults)
    kept = tuple(r for r in found.values() if r.count)
    return JointList(
        table.name, kept, tuple(faults), forgotten(kept), mapping, dict(mapping.metals)
    )


def _of(named: Mapping[str, Cell], mapping: ColumnMap) -> str:
    head = mapping.columns.get("of", "")
    return named[head].text if head in named else ""


def _fault(number: int, fault: RowFault, mapping: ColumnMap) -> Fault:
    return Fault(number, mapping.columns.get(fault.field, fault.field), fault.reason)


def _takes(row: JobRow, found: dict[str, JobRow]) -> list[Fault]:
    """Take an exception's count off the row it names; return why it cannot be."""
    of = row.texts.get("of", "")
    if row.id in found:
        return [Fault(row.row, "id", f"'{row.id}' stands in row {found[row.id].row} already")]
    if not of:
        return []
    if of not in found:
        return [Fault(row.row, "of", f"'{of}' is no row above that could be read")]
    whole = found[of]
    left = whole.count - row.count
    if left < 0:
        told = f"{row.count} joints, but only {whole.count} are left in '{of}'"
        return [Fault(row.row, "count", told)]
    found[of] = JobRow(whole.row, {**whole.texts, "count": str(left)})
    return []


def forgotten(rows: Sequence[JobRow]) -> tuple[str, ...]:
    """Return the kinds of parts that no row of a list names: to be asked about.

    Parameters
    ----------
    rows : sequence of JobRow
        The rows that could be read.
    """
    told = " ".join(r.texts.get("part", "") for r in rows).casefold()
    return tuple(n for n, words in FORGOTTEN.items() if not any(w in told for w in words))


def _empty(table: Table, faults: Sequence[Fault]) -> JointsEmpty:
    shown = "; ".join(f"row {f.row}, {f.column}: {f.reason}" for f in faults[:3])
    refusal = JointsEmpty(
        "no row of the list is a joint that can be read",
        got=shown or "no row",
        where=table.name,
        expected="at least one good row",
        do="Correct the rows, or the file of columns.",
    )
    return refusal


def write_joints(joints: JointList, out: Path) -> str:
    """Write the rows as JSON lines; return the file's SHA-256.

    Parameters
    ----------
    joints : JointList
        What was read.
    out : Path
        A name that ends in ``.jsonl``.

    Raises
    ------
    OutputRefused
        For another ending, or a place that cannot be written.
    """
    head = {"schema": LINE, "list": joints.name, "metals": dict(joints.metals)}
    rows = [{"row": str(r.row), **r.texts} for r in joints.rows]
    lines = (json.dumps(d, ensure_ascii=False, sort_keys=True) for d in (head, *rows))
    data = ("\n".join(lines) + "\n").encode()
    write_made(out, data, suffix=".jsonl")
    return hashlib.sha256(data).hexdigest()


def open_joints(path: Path, *, mapping: Path | None = None) -> JointList:
    """Return joints that were read before (``.jsonl``), or read a list now.

    Parameters
    ----------
    path : Path
        Lines that `write_joints` wrote, CSV or XLSX.
    mapping : Path, optional
        The file of columns of a list.

    Raises
    ------
    LapwrightError
        As `read_joint_list`; ``JointLinesRefused`` for lines of another form.
    """
    if path.suffix.lower() != ".jsonl":
        return read_joint_list(path, mapping=mapping)
    try:
        docs = [json.loads(line) for line in path.read_text("utf-8").splitlines() if line.strip()]
    except (OSError, ValueError) as fault:
        raise _lines_refused(path, str(fault)) from fault
    good = docs and all(_is_texts(d) for d in docs[1:]) and isinstance(docs[0], dict)
    if not good or docs[0].get("schema") != LINE or len(docs) < 2:
        raise _lines_refused(path, "lines of another form")
    rows = tuple(
        JobRow(int(d["row"]), {k: v for k, v in d.items() if k != "row"}) for d in docs[1:]
    )
    metals = {str(k): str(v) for k, v in dict(docs[0].get("metals", {})).items()}
    return JointList(str(docs[0].get("list", path.name)), rows, (), forgotten(rows), None, metals)


def _is_texts(doc: object) -> int:
    return (
        isinstance(doc, dict)
        and str(doc.get("row", "")).isdecimal()
        and str(doc.get("count", "1")).isdecimal()
        and all(isinstance(v, str) and k in (*FIELDS, "row") for k, v in doc.items())
        and all(doc.get(name) for name in ("size", "tube", "type", "fitting", "filler", "position"))
    )


def _lines_refused(path: Path, got: str) -> JointLinesRefused:
    return JointLinesRefused(
        "not joints that this tool has read",
        got=got,
        where=str(path),
        expected="the .jsonl that 'lapwright joints read LIST --out' writes, unchanged",
        do="Read the list again.",
    )
