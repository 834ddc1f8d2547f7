"""Read the CSV of uses and that of joints strictly: every bad row is told, one refuses the file."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeVar

from lapwright.core.errors import LapwrightError
from lapwright.core.times import parse_date
from lapwright.rules.continuity import Use

from .errors import CompareFileRefused, CompareRowsRefused
from .govnumbers import masked

T = TypeVar("T")
USES = (("on", "process"), ("procedure", "by", "job", "joints", "written_on"))
JOINTS = (("joint", "brazed_on"), ("person", "job"))
MAX_BYTES = 5_000_000


@dataclass(frozen=True)
class JointMade:
    """One joint and the day on which it was brazed; ``person`` may be empty."""

    joint: str
    brazed_on: date
    person: str = ""


def read_uses(path: Path) -> tuple[Use, ...]:
    """Return the uses of a CSV with ``on`` and ``process``, and what else an entry of use states.

    Raises
    ------
    CompareFileRefused, CompareRowsRefused
    """
    return _rows(path, USES, _use)


def read_joints(path: Path) -> tuple[JointMade, ...]:
    """Return the joints of a CSV with ``joint`` and ``brazed_on``; ``person`` may stand.

    Raises
    ------
    CompareFileRefused, CompareRowsRefused
    """
    return _rows(path, JOINTS, _joint)


def _use(row: Mapping[str, str]) -> Use:
    on, written = parse_date(row["on"]), row.get("written_on", "")
    put_down = parse_date(written) if written else None
    if put_down is not None and put_down < on:
        raise ValueError(f"written on {put_down}, before the use of {on}")
    if not row["process"]:
        raise ValueError("no process")
    return Use(on, row["process"], row.get("procedure", ""), row.get("by", ""), put_down)


def _joint(row: Mapping[str, str]) -> JointMade:
    if not row["joint"]:
        raise ValueError("no joint")
    return JointMade(row["joint"], parse_date(row["brazed_on"]), row.get("person", ""))


def _rows(
    path: Path, columns: tuple[Sequence[str], Sequence[str]], made: Callable[[dict[str, str]], T]
) -> tuple[T, ...]:
    header, lines = _table(path, columns)
    whole: list[T] = []
    faults: list[str] = []
    for number, cells in lines:
        try:
            if len(cells) != len(header):
                raise ValueError(f"{len(cells)} cells under {len(header)} columns")
            texts = (masked(c.strip()) for c in cells)
            whole.append(made(dict(zip(header, texts, strict=True))))
        except (ValueError, LapwrightError) as fault:
            faults.append(f"row {number}: {fault}")
    if faults:
        raise CompareRowsRefused(
            "rows that do not fit",
            got="; ".join(faults[:5]) + (f"; {len(faults) - 5} more" if len(faults) > 5 else ""),
            where=path.name,
            expected="every row whole, with dates like 2026-03-04",
            do="Correct the rows; the header is row 1.",
        )
    return tuple(whole)


def _table(
    path: Path, columns: tuple[Sequence[str], Sequence[str]]
) -> tuple[list[str], list[tuple[int, list[str]]]]:
    must, may = columns
    try:
        raw = path.read_bytes()
        if len(raw) > MAX_BYTES:
            raise ValueError(f"over {MAX_BYTES} bytes")
        lines = list(_lines(raw.decode("utf-8-sig")))
    except (OSError, ValueError, csv.Error) as fault:
        raise _file(path, str(fault), "a CSV in UTF-8") from fault
    header = [c.strip() for c in lines[0][1]] if lines else []
    unknown = [c for c in header if c not in (*must, *may)]
    missing = [c for c in must if c not in header]
    if unknown or missing or len(set(header)) != len(header):
        expected = f"{', '.join(must)}; also {', '.join(may)}"
        raise _file(path, f"columns {', '.join(header) or 'none'}", expected)
    return header, lines[1:]


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    for number, cells in enumerate(csv.reader(io.StringIO(text), strict=True), start=1):
        if any(c.strip() for c in cells):
            yield number, cells


def _file(path: Path, got: str, expected: str) -> CompareFileRefused:
    return CompareFileRefused(
        "not a table that can be read",
        got=got,
        where=path.name,
        expected=expected,
        do="Correct the header or save the table as CSV, comma separated, UTF-8.",
    )
