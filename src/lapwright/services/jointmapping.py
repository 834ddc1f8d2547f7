"""Which column of a joint list means what: proposed from the heads, shown, saved, confirmed.

Nothing is read by a guessed meaning. The proposal is written beside the list; a person checks
it, names the system of the sizes and the units of bare numbers, and confirms it by name. Only
then are rows read.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lapwright.reference.strictyaml import read_yaml

from .atomic import write_bytes
from .errors import MappingNotConfirmed, MappingRefused
from .jointtable import Table
from .schema import check
from .text import word

FORM = "lapwright-joint-columns/1"
FIELDS: dict[str, tuple[str, ...]] = {  # field -> words of a head that propose it
    "id": ("joint", "joint no", "joint id", "id", "no", "number", "tag", "weld no"),
    "count": ("count", "qty", "quantity", "pieces", "joints"),
    "of": ("exception of", "except", "of"),
    "part": ("part", "description", "item", "component", "what"),
    "size": ("size", "nominal size", "tube size", "nps", "od"),
    "tube": ("tube standard", "tube", "pipe"),
    "type": ("type", "tube type"),
    "fitting": ("fitting standard", "fitting"),
    "tube_metal": ("tube metal",),
    "fitting_metal": ("fitting metal", "metal", "material"),
    "overlap": ("overlap", "cup depth", "insertion", "lap"),
    "fitting_wall": ("fitting wall",),
    "filler": ("filler", "filler metal", "rod alloy"),
    "form": ("form", "filler form"),
    "flux": ("flux",),
    "position": ("position", "flow position", "flow"),
    "gas": ("gas", "service", "system"),
    "pressure": ("pressure", "operating pressure"),
    "date": ("date", "braze date", "brazed on"),
    "brazer": ("brazer", "mark", "brazed by"),
    "procedure": ("procedure", "bps", "procedure no"),
    "process": ("process",),
    "manner": ("manner",),
    "joint_type": ("joint type",),
}
MUST = ("size", "tube", "type", "fitting", "filler", "flux", "position")
PROPOSED = {  # what a medical-gas job usually is; the person confirms it with the rest
    "tube": "ASTM B819",
    "tube_metal": "copper",
    "process": "TB",
    "manner": "manual",
    "form": "rod",
    "joint_type": "socket",
}
METALS = {"copper": "C12200"}


@dataclass(frozen=True)
class ColumnMap:
    """A confirmed reading of the columns.

    ``columns`` is field -> head, ``constants`` field -> value for every row; ``units`` the unit
    of bare numbers; ``metals`` the alloy that a word stands for.
    """

    columns: Mapping[str, str]
    constants: Mapping[str, str]
    size_system: str
    units: Mapping[str, str]
    dates: str
    decimal: str
    by: str
    on: str
    metals: Mapping[str, str] = field(default_factory=dict)
    sheet: str = ""
    header_row: int = 1

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain JSON, as it is shown."""
        return {
            "columns": dict(self.columns),
            "constants": dict(self.constants),
            "size_system": self.size_system,
            "units": dict(self.units),
            "dates": self.dates,
            "decimal": self.decimal,
            "metals": dict(self.metals),
            "confirmed": {"by": self.by, "on": self.on},
        }

    def lines(self) -> Iterator[str]:
        """Yield what is read from where, for a terminal."""
        for name, head in self.columns.items():
            yield word("joints.map.column", field=name, head=head)
        for name, value in self.constants.items():
            yield word("joints.map.constant", field=name, value=value)
        yield word(
            "joints.map.units",
            system=self.size_system,
            units=", ".join(f"{k} {v}" for k, v in self.units.items()),
            by=self.by,
            on=self.on,
        )


def mapping_beside(table: Path) -> Path:
    """Return where the mapping of a list lies: beside it, ``joints.xlsx.columns.yaml``."""
    return table.with_name(f"{table.name}.columns.yaml")


def propose(heads: Sequence[str]) -> dict[str, str]:
    """Return field -> head for the heads that can mean one field only.

    Parameters
    ----------
    heads : sequence of str
        The cells of the head row.

    Examples
    --------
    >>> propose(["Joint No.", "Size", "Colour"])
    {'id': 'Joint No.', 'size': 'Size'}
    """
    found: dict[str, str] = {}
    for name, known in FIELDS.items():
        fits = [h for h in heads if _plain(h) in known]
        if len(fits) == 1 and fits[0] not in found.values():
            found[name] = fits[0]
    return found


def _plain(head: str) -> str:
    text = re.sub(r"\(.*?\)", "", head.casefold())
    return " ".join(re.sub(r"[^a-z0-9]+", " ", text).split())


def write_proposal(path: Path, table: Table, header_row: int) -> dict[str, str]:
    """Write a proposed mapping for a person to check; a file that is there stays.

    Parameters
    ----------
    path : Path
        Where it goes.
    table : Table
        The list as read with that row of heads.
    header_row : int
        The row that holds the heads.
    """
    columns = propose(table.heads)
    if not path.exists():
        told = _proposal(columns, table, header_row)
        write_bytes(path, "\n".join(told).encode() + b"\n")
    return columns


def _proposal(columns: Mapping[str, str], table: Table, header_row: int) -> Iterator[str]:
    yield "# How the columns of this list are read. Check every line, then fill in 'confirmed'."
    yield f"schema: {FORM}"
    if table.sheet:
        yield f"sheet: {_quoted(table.sheet)}"
    yield f'header_row: "{header_row}"'
    left = [h for h in table.heads if h and h not in columns.values()]
    if left:
        yield f"# not read: {', '.join(left)}"
    yield f"# fields that a column may hold: {', '.join(FIELDS)}"
    yield "columns:"
    yield from (f"  {name}: {_quoted(head)}" for name, head in columns.items())
    yield "# the same for every row; take a line out where a column holds it"
    yield "constants:"
    yield from (f"  {n}: {_quoted(v)}" for n, v in PROPOSED.items() if n not in columns)
    yield "# nominal (medical tube), outside-inch (refrigeration tube) or outside-mm"
    yield 'size_system: ""'
    yield "# units of numbers that stand without one"
    yield 'units: {overlap: "", pressure: ""}'
    yield "# year-month-day, month-day-year or day-month-year; decimal point or comma"
    yield "dates: year-month-day"
    yield "decimal: point"
    yield "# the alloy that each metal word stands for"
    yield "metals:"
    yield from (f"  {n}: {_quoted(v)}" for n, v in METALS.items())
    yield 'confirmed: {by: "", on: ""}'


def _quoted(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def load_mapping(path: Path, heads: Sequence[str]) -> ColumnMap:
    """Return a confirmed mapping that fits the heads of a list.

    Parameters
    ----------
    path : Path
        The YAML file.
    heads : sequence of str
        The cells of the head row.

    Raises
    ------
    LapwrightError
        ``MappingRefused`` for a head that is not there, or twice; ``MappingNotConfirmed`` while
        names, system or units are blank; the YAML reader's and the schema's refusals.
    """
    doc = check(read_yaml(path), "joint-columns", where=str(path))
    columns, constants = doc["columns"], doc.get("constants", {})
    blank = [n for n in ("by", "on") if not doc["confirmed"][n].strip()]
    blank += ["size_system"] if not doc["size_system"] else []
    blank += [f"units.{n}" for n in ("overlap", "pressure") if n in columns and not _unit(doc, n)]
    if blank:
        raise not_confirmed(path, ", ".join(blank))
    _heads_fit(path, columns, heads)
    lacking = [n for n in MUST if n not in columns and n not in constants]
    both = [n for n in columns if n in constants]
    for what, names in (("fields without a column", lacking), ("fields given twice", both)):
        if names:
            raise _refused(path, what, ", ".join(names))
    return ColumnMap(
        columns=columns,
        constants=constants,
        size_system=doc["size_system"],
        units={n: u for n in ("overlap", "pressure") if (u := _unit(doc, n))},
        dates=doc["dates"],
        decimal=doc["decimal"],
        by=doc["confirmed"]["by"],
        on=doc["confirmed"]["on"],
        metals=doc.get("metals", {}),
        sheet=doc.get("sheet", ""),
        header_row=int(doc.get("header_row", "1")),
    )


def _unit(doc: Mapping[str, Any], name: str) -> str:
    return str(doc.get("units", {}).get(name, ""))


def _heads_fit(path: Path, columns: Mapping[str, str], heads: Sequence[str]) -> None:
    absent = [h for h in columns.values() if h not in heads]
    double = sorted({h for h in columns.values() if list(heads).count(h) > 1})
    used = list(columns.values())
    shared = sorted({h for h in used if used.count(h) > 1})
    for what, found in (
        ("columns that the list has not", absent),
        ("columns that the list has twice", double),
        ("one column for several fields", shared),
    ):
        if found:
            raise _refused(path, what, ", ".join(found), ", ".join(h for h in heads if h))


def not_confirmed(path: Path, blank: str) -> MappingNotConfirmed:
    """Return the refusal to read a list whose columns nobody has confirmed."""
    return MappingNotConfirmed(
        "the columns of this list are not confirmed",
        got=f"blank: {blank}",
        where=str(path),
        expected="every column, the size system and the units checked, and a name with a day",
        do="Open the file, correct it, fill in what is blank, then read the list again.",
    )


def _refused(path: Path, what: str, got: str, expected: str = "") -> MappingRefused:
    return MappingRefused(
        what,
        got=got,
        where=str(path),
        expected=expected or "each field once, as a column or as a constant",
        do="Correct the file of columns.",
    )
