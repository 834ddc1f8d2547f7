"""One row of a joint list turned into exact values, or into reasons why it cannot be.

Nothing is mapped silently: a position is a letter of the flow positions, a metal one of three
words, a filler its classification, and a size must exist in its standard. Numbers without a
unit take the confirmed one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from lapwright.core.errors import LapwrightError
from lapwright.core.quantities import Quantity
from lapwright.core.times import parse_date
from lapwright.reference.fillers import filler
from lapwright.reference.fittings import cup
from lapwright.reference.sizes import NominalSize
from lapwright.reference.standards import standard_in_use
from lapwright.reference.tube import tube_sizes

from .jointmapping import FIELDS, ColumnMap
from .jointtable import DATE, FAULT, Cell

MAKER = "maker"  # a part of no fitting standard: valve, station outlet, gauge connection
POSITIONS = ("A", "B", "C", "D")
_COUNT = re.compile(r"^[1-9]\d{0,5}$")
_BARE = re.compile(r"^(\d+(?:\.\d*)?|\.\d+)$")
_MIXED = re.compile(r"^(\d+)[ -]+(\d+)/(\d+)$")
_GLYPHS = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_ID = re.compile(r"^[^\x00-\x1f\x7f]{1,60}$")


@dataclass(frozen=True)
class Fault:
    """Why a row, or one of its cells, cannot be read; ``column`` is the head in the list."""

    row: int
    column: str
    reason: str

    def as_dict(self) -> dict[str, str]:
        """Return it as plain JSON."""
        return {"row": str(self.row), "column": self.column, "reason": self.reason}


class RowFault(Exception):
    """A cell that cannot be read, with the field and the reason."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(reason)
        self.field = field
        self.reason = reason


def texts_of(
    cells: Mapping[str, Cell], mapping: ColumnMap, base: Mapping[str, str]
) -> dict[str, str]:
    """Return field -> text of a row: its cells, else the row it is an exception of, else constants.

    Parameters
    ----------
    cells : mapping
        Head to cell.
    mapping : ColumnMap
        The confirmed columns.
    base : mapping
        Texts of the row that this one is an exception of; empty otherwise.

    Raises
    ------
    RowFault
        For a cell that the spreadsheet spoiled.
    """
    found = {}
    for name in FIELDS:
        head = mapping.columns.get(name, "")
        cell = cells.get(head, Cell("")) if head else Cell("")
        text = _text(name, cell, mapping)
        inherited = base.get(name, "") if name not in ("id", "of", "count") else ""
        found[name] = text or inherited or mapping.constants.get(name, "")
    return found


def _text(name: str, cell: Cell, mapping: ColumnMap) -> str:
    if cell.kind == FAULT:
        raise RowFault(name, f"{cell.text}: open the workbook, calculate it, save it again")
    if cell.kind == DATE and name != "date":
        raise RowFault(name, f"the spreadsheet made a date of it ({cell.text}): type it as text")
    if cell.kind == DATE or name != "date" or not cell.text:
        return cell.text
    return _day(cell.text, mapping.dates)


def _day(text: str, order: str) -> str:
    parts = re.fullmatch(r"(\d{1,4})[-/.](\d{1,2})[-/.](\d{1,4})", text)
    if parts is None:
        raise RowFault("date", f"'{text}' is not a day written {order}")
    named = dict(zip(order.split("-"), parts.groups(), strict=True))
    if len(named["year"]) != 4:
        raise RowFault("date", f"'{text}' has no year of four digits ({order})")
    try:
        year, month, day = (int(named[n]) for n in ("year", "month", "day"))
        return date(year, month, day).isoformat()
    except ValueError:
        raise RowFault("date", f"'{text}' is not a day of the calendar ({order})") from None


def checked(texts: Mapping[str, str], mapping: ColumnMap) -> dict[str, str]:
    """Return the texts in exact form, or raise the first `RowFault`; see `faults_of`."""
    exact = dict(texts)
    for name, change in _CHANGES:
        exact[name] = change(name, exact, mapping)
    return {name: value for name, value in exact.items() if value}


def faults_of(texts: Mapping[str, str], mapping: ColumnMap) -> Iterator[RowFault]:
    """Yield every fault of a row's texts, each field once."""
    exact = dict(texts)
    for name, change in _CHANGES:
        try:
            exact[name] = change(name, exact, mapping)
        except RowFault as fault:
            exact[name] = ""  # what leans on it is not told as well
            yield fault


def _needed(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = texts[name]
    if not text:
        raise RowFault(name, "empty")
    if not _ID.match(text):
        raise RowFault(name, "longer than 60 characters, or not plain text")
    return text


def _free(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    return _needed(name, texts, mapping) if texts[name] else ""


def _count(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = texts[name] or "1"
    if not _COUNT.match(text):
        raise RowFault(name, f"'{text}' is not a whole number from 1")
    return text


def _standard(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = _needed(name, texts, mapping)
    subject = "tube" if name == "tube" else "fitting"
    _refer(name, lambda: standard_in_use(text, subject))
    return text


def _size(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = _needed(name, texts, mapping)
    if re.match(r"(?i)^\s*dn", text):
        raise RowFault(
            name, f"'{text}': DN is no size of copper tube; write the size as designated"
        )
    try:
        sizes = tube_sizes(texts["tube"], texts["type"])
    except LapwrightError:
        return text  # the standard's own fault is told at its own column
    found = [s for s in sizes if _designates(s, _designation(text), mapping.size_system)]
    if len(found) != 1:
        known = ", ".join(s.designation for s in sizes)
        told = f"'{text}' ({mapping.size_system}) is no size of {texts['tube']}"
        raise RowFault(name, f"{told}; sizes: {known}")
    return found[0].designation


def _designation(text: str) -> str:
    """Return a size as written, without inch signs, spaces and single glyphs of fractions."""
    for glyph, plain in _GLYPHS.items():
        text = text.replace(glyph, f" {plain}")
    text = re.sub(r'\s*(?:"|”|″|in\.?|inch(?:es)?)$', "", " ".join(text.split()).strip())
    mixed = _MIXED.match(text)
    return f"{mixed[1]}-{mixed[2]}/{mixed[3]}" if mixed else text


def _designates(size: NominalSize, text: str, system: str) -> int:
    """Whether a text names a size in the confirmed system; decimals must agree exactly."""
    own = size.number if system == size.system.value else size.outside_diameter.inches
    if system == "outside-mm":
        own = Fraction(size.outside_diameter.base)
        text = text.removesuffix("mm").strip()
    if system == "nominal" and size.system.value != "nominal":
        return 0
    try:
        asked = sum((Fraction(part) for part in text.split("-")), Fraction(0))
    except (ValueError, ZeroDivisionError):
        return 0
    return asked == own


def _tube_type(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = _needed(name, texts, mapping).upper().removeprefix("TYPE").strip()
    sizes = _refer(name, lambda: tube_sizes(texts["tube"], text))
    if not sizes:
        raise RowFault(name, f"no sizes of type '{text}' in {texts['tube']}")
    return text


def _cup(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    if texts[name].casefold() == MAKER:
        if not texts["overlap"] or texts["overlap"].casefold() == "table":
            raise RowFault("overlap", "empty: no table has the cup of a maker's part; measure it")
        return MAKER
    text = _standard(name, texts, mapping)
    if texts["size"] and texts["overlap"].casefold() in ("", "table"):
        _refer(name, lambda: cup(text, texts["size"]))
    return text


def _length(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = texts[name]
    if not text or text.casefold() == "table":
        return ""
    return _quantity(name, text, mapping, "overlap", "length")


def _pressure(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    return _quantity(name, texts[name], mapping, name, "pressure") if texts[name] else ""


def _quantity(name: str, text: str, mapping: ColumnMap, unit: str, kind: str) -> str:
    plain = text.replace(",", ".") if mapping.decimal == "comma" else text
    if _BARE.match(plain):
        plain = f"{plain} {mapping.units.get(unit, '')}".strip()
    found = _refer(name, lambda: Quantity.parse(plain, kind))
    assert isinstance(found, Quantity)
    if found.value <= 0:
        raise RowFault(name, f"'{text}' is not above zero")
    return found.text


def _filler(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = _needed(name, texts, mapping)
    _refer(name, lambda: filler(text))
    return text


def _position(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = _needed(name, texts, mapping)
    if text not in POSITIONS:
        told = "D is horizontal flow, B downflow, C upflow; words are not translated"
        raise RowFault(name, f"'{text}' is not one of the letters A, B, C, D ({told})")
    return text


def _flux(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    return _needed(name, texts, mapping).casefold()


def _metal(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    text = texts[name].casefold()
    if text and text not in mapping.metals:
        known = ", ".join(mapping.metals) or "none"
        raise RowFault(name, f"'{text}': the file of columns names no alloy for it ({known})")
    return text


def _date(name: str, texts: Mapping[str, str], mapping: ColumnMap) -> str:
    if texts[name]:
        _refer(name, lambda: parse_date(texts[name]))
    return texts[name]


def _refer(name: str, look_up: object) -> object:
    try:
        return look_up()  # type: ignore[operator]
    except LapwrightError as refusal:
        told = f"{refusal.what}: '{refusal.got}', expected {refusal.expected}"
        raise RowFault(name, told) from None


_CHANGES = (  # in this order: the size leans on tube and type, the cup on size and overlap
    ("id", _free),
    ("of", _free),
    ("count", _count),
    ("tube", _standard),
    ("type", _tube_type),
    ("size", _size),
    ("overlap", _length),
    ("fitting", _cup),
    ("fitting_wall", _length),
    ("tube_metal", _metal),
    ("fitting_metal", _metal),
    ("filler", _filler),
    ("form", _free),
    ("flux", _flux),
    ("position", _position),
    ("part", _free),
    ("gas", _free),
    ("pressure", _pressure),
    ("date", _date),
    ("brazer", _free),
    ("procedure", _free),
    ("process", _free),
    ("manner", _free),
    ("joint_type", _free),
)
