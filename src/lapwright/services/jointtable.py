"""The cells of a joint list, CSV or XLSX, as text with what a spreadsheet did to them.

A workbook is opened for its values alone: no macro, no link, no formula is run. What a
spreadsheet is known to spoil is kept visible: a size that became a date, a formula without a
stored result, an error value.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from .errors import JointFileRefused

MAX_BYTES = 20_000_000
MAX_UNPACKED = 300_000_000
MAX_ROWS = 100_000
NUMBER, DATE, FAULT = "number", "date", "fault"


@dataclass(frozen=True)
class Cell:
    """One cell: its text, and ``number``, ``date`` or ``fault`` where it was no plain text."""

    text: str
    kind: str = ""


@dataclass(frozen=True)
class Table:
    """Heads and rows of a list; rows carry their number in the file, counted from 1."""

    name: str
    sheet: str
    heads: tuple[str, ...]
    rows: tuple[tuple[int, tuple[Cell, ...]], ...]


def read_table(path: Path, *, sheet: str = "", header_row: int = 1) -> Table:
    """Read the cells of a list.

    Parameters
    ----------
    path : Path
        A file that ends in ``.csv`` (UTF-8, comma or semicolon) or ``.xlsx``.
    sheet : str, optional
        The sheet of a workbook; its only or first one otherwise.
    header_row : int, optional
        The row that holds the heads.

    Raises
    ------
    JointFileRefused
        If it is missing, too large, of another kind, or has no such sheet or row.
    """
    data = _bytes(path)
    if path.suffix.lower() == ".xlsx":
        sheet, lines = _workbook(data, path, sheet)
    else:
        lines = _comma_separated(data, path)
    return _table(path, sheet, lines, header_row)


def _bytes(path: Path) -> bytes:
    if path.suffix.lower() not in (".csv", ".xlsx"):
        raise _refused("not a list of joints", path.suffix or "no ending", path)
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MAX_BYTES and path.is_file() else b""
    except OSError as fault:
        raise _refused("a file that cannot be read", str(fault.strerror), path) from fault
    if size > MAX_BYTES or not data:
        raise _refused("a file that is empty or too large", f"{size} bytes", path)
    return data


def _comma_separated(data: bytes, path: Path) -> list[tuple[int, list[Cell]]]:
    try:
        text = data.decode("utf-8-sig")
        first = text.split("\n", 1)[0]
        mark = ";" if first.count(";") > first.count(",") else ","
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
        return [(reader.line_num, [Cell(c.strip()) for c in cells]) for cells in reader]
    except UnicodeDecodeError as fault:
        raise _refused("not text in UTF-8", f"byte {fault.start}", path) from fault
    except csv.Error as fault:
        raise _refused("not comma-separated text", str(fault), path) from fault


def _workbook(data: bytes, path: Path, sheet: str) -> tuple[str, list[tuple[int, list[Cell]]]]:
    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as held:
            if sum(i.file_size for i in held.infolist()) > MAX_UNPACKED:
                raise _refused("a workbook too large to read", "over 300 MB unpacked", path)
        values = openpyxl.load_workbook(io.BytesIO(data), data_only=True, keep_links=False)
        formulas = openpyxl.load_workbook(io.BytesIO(data), keep_links=False)
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, OSError) as fault:
        raise _refused("not a workbook", type(fault).__name__, path) from fault
    if sheet and sheet not in values.sheetnames:
        raise _refused("no such sheet", f"{sheet}; sheets: {', '.join(values.sheetnames)}", path)
    name = sheet or values.sheetnames[0]
    pairs = zip(values[name].iter_rows(), formulas[name].iter_rows(), strict=True)
    lines = [
        (number, [_cell(v.value, f.value) for v, f in zip(a, b, strict=True)])
        for number, (a, b) in enumerate(pairs, start=1)
    ]
    return name, lines


def _cell(value: Any, formula: Any) -> Cell:
    """Return what a workbook holds in a cell as text, exact for numbers."""
    if isinstance(formula, str) and formula.startswith("=") and value is None:
        return Cell("a formula without a stored result", FAULT)
    if value is None:
        return Cell("")
    if isinstance(value, bool):
        return Cell("yes" if value else "no")
    if isinstance(value, datetime):
        return Cell(value.date().isoformat(), DATE)
    if isinstance(value, date):
        return Cell(value.isoformat(), DATE)
    if isinstance(value, int | float):
        exact = Decimal(repr(value))
        plain = exact.quantize(Decimal(1)) if exact == exact.to_integral_value() else exact
        return Cell(f"{plain:f}", NUMBER)
    text = " ".join(str(value).split())
    return Cell(f"the error value {text}", FAULT) if _is_error(text) else Cell(text)


def _is_error(text: str) -> int:
    return text in ("#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#N/A", "#NUM!", "#NULL!")


def _table(
    path: Path, sheet: str, lines: Sequence[tuple[int, list[Cell]]], header_row: int
) -> Table:
    heads = next((cells for number, cells in lines if number == header_row), None)
    if heads is None or not any(c.text for c in heads):
        raise _refused("no heads in that row", f"row {header_row}", path)
    rows = list(_filled(lines, header_row, len(heads)))
    if not rows or len(rows) > MAX_ROWS:
        raise _refused("no rows, or too many", f"{len(rows)} rows below the heads", path)
    return Table(path.name, sheet, tuple(c.text for c in heads), tuple(rows))


def _filled(
    lines: Sequence[tuple[int, list[Cell]]], header_row: int, width: int
) -> Iterator[tuple[int, tuple[Cell, ...]]]:
    """Yield the rows that hold something; short ones are filled up with empty cells."""
    for number, cells in lines:
        if number > header_row and any(c.text for c in cells):
            yield number, (*cells, *(Cell("") for _ in range(width - len(cells))))


def _refused(what: str, got: str, path: Path) -> JointFileRefused:
    return JointFileRefused(
        what,
        got=got,
        where=str(path),
        expected="a .csv (UTF-8) or .xlsx file with a row of heads, 1 to 100 000 rows below it",
        do="Save the list again, or name its sheet and row of heads in the file of columns.",
    )
