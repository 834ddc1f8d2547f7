"""Read a CSV of readings strictly: every bad row is told with its number and reason.

Columns: ``face``, ``reader``, ``reading`` and ``share`` must be there; ``date``,
``way``, ``low``, ``high``, ``method``, ``refused`` and ``image_sha256`` may. Nothing is guessed: a
share is a fraction (``0.182``) or carries a percent sign (``18.2 %``), throughout a
column alike; an empty cell is empty; one bad row refuses the file.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from lapwright.core.errors import LapwrightError
from lapwright.core.times import parse_date
from lapwright.measure.errors import (
    MixedSharesRefused,
    ReadingsFileRefused,
    ReadingsRowsRefused,
)

MUST = ("face", "reader", "reading", "share")
MAY = ("date", "way", "low", "high", "method", "refused", "image_sha256")
SHARES = ("share", "low", "high")
AS_FILED = "as-filed"  # rows of a method check of an older form, which were not held to all this
LOUPE, PROGRAM = "loupe", "program"
MAX_BYTES = 20_000_000
_ID = re.compile(r"^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$")
_SHARE = re.compile(r"^(\d+(?:\.\d+)?|\.\d+) ?(%?)$")
_COUNT = re.compile(r"^[1-9]\d{0,3}$")
_CODE = re.compile(r"^[A-Z]{3,10}-\d{3}$")
_DIGEST = re.compile(r"^[0-9a-f]{64}$")
_METHOD = re.compile(r"^\S(.{0,198}\S)?$")


@dataclass(frozen=True)
class Row:
    """One reading of one face; ``share`` is None where the program refused the face.

    ``row`` is the row of the file, the header being row 1; shares are exact
    fractions of the overlap; ``image_sha256`` is the digest of the face's picture.
    """

    row: int
    face: str
    reader: str
    reading: int
    share: Decimal | None
    on: date | None
    way: str
    low: Decimal | None
    high: Decimal | None
    method: str
    refused: str
    image_sha256: str = ""

    @property
    def value(self) -> float:
        """The share as a number; only for rows that were answered."""
        assert self.share is not None
        return float(self.share)


@dataclass(frozen=True)
class Readings:
    """The rows of a file, in its order, and the digest of its bytes."""

    name: str
    sha256: str
    rows: tuple[Row, ...]

    def by(self, way: str) -> tuple[Row, ...]:
        """Return the rows of one way of reading."""
        return tuple(r for r in self.rows if r.way == way)


def parse_share(text: str) -> Decimal | None:
    """Return an exact share of ``0.182`` or ``18.2 %``, or None for anything else.

    Parameters
    ----------
    text : str
        The text; above 1 only with a percent sign.

    Examples
    --------
    >>> parse_share("18.2 %"), parse_share("0.182"), parse_share("18.2")
    (Decimal('0.182'), Decimal('0.182'), None)
    """
    found = _SHARE.match(text.strip()) if text.isascii() else None
    if found is None:
        return None
    value = Decimal(found[1]) / 100 if found[2] else Decimal(found[1])
    return value if value <= 1 else None


def read_readings(data: bytes, name: str, *, program: str = "", rows: str = "strict") -> Readings:
    """Read the bytes of a CSV of readings.

    Parameters
    ----------
    data : bytes
        The file, UTF-8, comma separated, with a header row.
    name : str
        Its name, for messages.
    program : str, optional
        Reader id that stands for the program, in a file without ``way``.
    rows : str, optional
        ``as-filed`` for the rows of a method check of an older form.

    Raises
    ------
    MixedSharesRefused
        If a column holds fractions and percentages.
    ReadingsFileRefused
        For a file that is no such table.
    ReadingsRowsRefused
        Naming every row that does not fit, with its reason.
    """
    lines = _lines(data, name)
    header = _header(lines[0][1], name)
    if program and "way" in header:
        raise _file("a reader is named as the program beside the column 'way'", program, name)
    whole: list[Row] = []
    faults: list[str] = []
    for number, cells in lines[1:]:
        if len(cells) != len(header):
            faults.append(f"row {number}: {len(cells)} cells under {len(header)} columns")
            continue
        given = {k: v.strip() for k, v in zip(header, cells, strict=True)}
        reasons = list(_faults(given, program))
        faults += [f"row {number}: {reason}" for reason in reasons]
        if not reasons:
            whole.append(_row(number, given, program))
    faults += _twice(whole)
    if faults:
        raise _rows(sorted(faults, key=_row_number), name)
    if rows != AS_FILED:
        _alike(header, lines[1:], name)
    return Readings(name, hashlib.sha256(data).hexdigest(), tuple(whole))


def _alike(header: Sequence[str], lines: Iterable[tuple[int, list[str]]], name: str) -> None:
    """Refuse a column in which a forgotten percent sign would change a share a hundredfold."""
    first: dict[tuple[str, str], int] = {}
    for number, cells in lines:
        for column, cell in zip(header, cells, strict=True):
            if column in SHARES and cell.strip():
                first.setdefault((column, "%" if "%" in cell else ""), number)
    for column in SHARES:
        fraction, percent = first.get((column, "")), first.get((column, "%"))
        if fraction and percent:
            raise MixedSharesRefused(
                f"fractions and percentages in one column ({column})",
                got=f"a percentage in row {percent}, a fraction in row {fraction}",
                where=name,
                expected="one way of writing throughout a column",
                do="Write 0.182 in every row of the column, or 18.2 % in every row.",
            )


def _lines(data: bytes, name: str) -> list[tuple[int, list[str]]]:
    if len(data) > MAX_BYTES:
        raise _file("a file too large to be readings", f"{len(data)} bytes", name)
    try:
        text = data.decode("utf-8-sig")
        reader = csv.reader(io.StringIO(text, newline=""), strict=True)
        lines = [(reader.line_num, cells) for cells in reader if cells]
    except UnicodeDecodeError as fault:
        raise _file("not text in UTF-8", f"byte {fault.start}", name) from fault
    except csv.Error as fault:
        raise _file("not comma-separated text", str(fault), name) from fault
    if len(lines) < 2:
        raise _file("no readings", f"{len(lines)} rows", name)
    return lines


def _header(cells: Sequence[str], name: str) -> list[str]:
    header = [c.strip() for c in cells]
    missing = [c for c in MUST if c not in header]
    unknown = [c for c in header if c not in (*MUST, *MAY)]
    double = sorted({c for c in header if header.count(c) > 1})
    for what, columns in (
        ("columns are missing", missing),
        ("columns that are not known", unknown),
        ("columns that stand twice", double),
    ):
        if columns:
            raise _file(f"{what} ({', '.join(columns) or 'no name'})", ",".join(header), name)
    return header


def _faults(given: Mapping[str, str], program: str) -> Iterator[str]:
    for key in ("face", "reader"):
        if not _ID.match(given[key]):
            yield f"{key} '{given[key]}' is not 1 to 40 letters, digits, dots, dashes, underscores"
    if not _COUNT.match(given["reading"]):
        yield f"reading '{given['reading']}' is not a whole number from 1"
    yield from _value_faults(given, _way(given, program))
    if "way" in given and given["way"] not in (LOUPE, PROGRAM):
        yield f"way '{given['way']}' is not {LOUPE} or {PROGRAM}"
    if given.get("date"):
        try:
            parse_date(given["date"])
        except LapwrightError as fault:
            yield f"date '{given['date']}': {fault.what}, write YYYY-MM-DD"
    if given.get("image_sha256") and not _DIGEST.match(given["image_sha256"]):
        yield f"image_sha256 '{given['image_sha256']}' is not 64 digits 0 to 9 and a to f"
    if given.get("method") and not _METHOD.match(given["method"]):
        yield "method is longer than 200 characters"


def _value_faults(given: Mapping[str, str], way: str) -> Iterator[str]:
    refused, share = given.get("refused", ""), parse_share(given["share"])
    if refused:
        if way != PROGRAM:
            yield "refused stands at a row that is not the program's"
        if not _CODE.match(refused):
            yield f"refused '{refused}' is not a code like MEAS-016"
        if given["share"] or given.get("low") or given.get("high"):
            yield "refused, and yet a share or an interval is given"
        return
    if share is None:
        yield f"share '{given['share']}' is not a fraction like 0.182 or a percentage like 18.2 %"
    low, high = (given.get(k, "") for k in ("low", "high"))
    if not low and not high:
        return
    ends = parse_share(low), parse_share(high)
    if ends[0] is None or ends[1] is None:
        yield f"low '{low}' and high '{high}' are not two shares"
    elif share is not None and not ends[0] <= share <= ends[1]:
        yield f"the share {given['share']} does not lie from low {low} to high {high}"


def _row(number: int, given: Mapping[str, str], program: str) -> Row:
    day = given.get("date", "")
    return Row(
        number,
        given["face"],
        given["reader"],
        int(given["reading"]),
        parse_share(given["share"]),
        parse_date(day) if day else None,
        _way(given, program),
        parse_share(given.get("low", "")),
        parse_share(given.get("high", "")),
        given.get("method", ""),
        given.get("refused", ""),
        given.get("image_sha256", ""),
    )


def _way(given: Mapping[str, str], program: str) -> str:
    if "way" in given:
        return given["way"]
    return PROGRAM if program and given["reader"] == program else LOUPE


def _twice(rows: Sequence[Row]) -> list[str]:
    """Return the faults of rows that repeat a reading."""
    first: dict[tuple[str, str, str, int], int] = {}
    faults = []
    for r in rows:
        key = (r.face, r.reader, r.way, r.reading)
        if key in first:
            faults.append(
                f"row {r.row}: reading {r.reading} of face {r.face} by {r.reader} "
                f"stands in row {first[key]} already"
            )
        first.setdefault(key, r.row)
    return faults


def _row_number(fault: str) -> int:
    return int(fault.split(":")[0].removeprefix("row "))


def _file(what: str, got: str, name: str) -> ReadingsFileRefused:
    return ReadingsFileRefused(
        what,
        got=got,
        where=name,
        expected=f"a header row with {', '.join(MUST)} (and, where needed, {', '.join(MAY)})",
        do="Save the table as comma-separated text in UTF-8 with these columns.",
    )


def _rows(faults: list[str], name: str) -> ReadingsRowsRefused:
    refusal = ReadingsRowsRefused(
        f"faults in the rows: {len(faults)}",
        got="; ".join(faults),
        expected="rows as the reference page describes them",
        where=name,
        do="Correct these rows; nothing was left out or guessed.",
    )
    refusal.faults = tuple(faults)
    return refusal
