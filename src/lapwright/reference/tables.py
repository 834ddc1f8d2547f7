"""Reading the tables in ``data/``: rows, sources and how sure each row is.

A table is one CSV file (units in its column names) and one ``.source.yaml``.
Every row names its sources by id and its confidence, ``seen`` or ``memory``.
Numbers stay exact decimals. Damaged data is refused, never repaired.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from difflib import get_close_matches
from enum import Enum
from functools import cache
from importlib import resources
from types import MappingProxyType

from lapwright.core.citations import Basis, Citation
from lapwright.core.quantities import Quantity

from .errors import TableRefused
from .strictyaml import load_yaml

_FIELDS = (
    "table",
    "title",
    "designation",
    "edition",
    "who_may_read",
    "key",
    "columns",
    "conflicts",
)
_SHORT_LIST = 20  # names shown whole; of a longer list only the near ones


class Confidence(Enum):
    """Whether a figure stood in a page that was read, or was recalled."""

    SEEN = "seen"
    MEMORY = "memory"


@dataclass(frozen=True)
class Provenance:
    """Where one row comes from; ``row`` identifies it inside its table."""

    table: str
    row: str
    designation: str
    sources: tuple[str, ...]
    confidence: Confidence
    note: str

    @property
    def citation(self) -> Citation:
        """Citation of the row's first source, table name as place."""
        return self.citations[0]

    @property
    def citations(self) -> tuple[Citation, ...]:
        """One citation a source; basis ``memory`` for a recalled row."""
        recalled = self.confidence is Confidence.MEMORY
        basis = Basis.MEMORY if recalled else Basis.SECONDARY
        return tuple(Citation(s, self.table, basis, self._title(s)) for s in self.sources)

    def as_memory(self) -> Provenance:
        """Return the same provenance for a figure of the row that was recalled."""
        return Provenance(
            self.table, self.row, self.designation, ("recollection",), Confidence.MEMORY, self.note
        )

    def _title(self, source: str) -> str:
        if source == "recollection":
            return f"{self.designation} (recalled, no page seen)"
        return sources()[source]


@dataclass(frozen=True)
class Sourced:
    """A table row that knows where it comes from."""

    provenance: Provenance

    @property
    def citation(self) -> Citation:
        """Citation to print beside the figure."""
        return self.provenance.citation

    @property
    def confidence(self) -> Confidence:
        """``seen`` or ``memory``."""
        return self.provenance.confidence

    @property
    def source(self) -> str:
        """Ids of the row's sources."""
        return "; ".join(self.provenance.sources)

    @property
    def note(self) -> str:
        """What to know about the row; often empty."""
        return self.provenance.note

    @property
    def row(self) -> str:
        """Stable id of the row, for confirming it: ``table/key/key``."""
        return f"{self.provenance.table}/{self.provenance.row}"


@dataclass(frozen=True)
class TableSource:
    """The ``.source.yaml`` of a table."""

    table: str
    title: str
    designation: str
    edition: str
    who_may_read: str
    key: tuple[str, ...]
    columns: Mapping[str, str]
    conflicts: tuple[Mapping[str, str], ...]


@dataclass(frozen=True)
class Record:
    """One CSV row: text cells with exact readers; ``cells`` by column name."""

    cells: Mapping[str, str]
    provenance: Provenance

    def text(self, column: str) -> str:
        """Return the cell as written."""
        return self.cells[column]

    def number(self, column: str) -> Decimal | None:
        """Return the cell as an exact decimal, ``None`` for an empty cell."""
        cell = self.cells[column]
        if not cell:
            return None
        try:
            return Decimal(cell)
        except InvalidOperation:
            raise _damaged(self.provenance.table, f"{column} is not a number", cell) from None

    def needed(self, column: str) -> Decimal:
        """Return the cell as an exact decimal; an empty cell is refused."""
        value = self.number(column)
        if value is None:
            raise _damaged(self.provenance.table, f"{column} is empty", self.provenance.row)
        return value

    def inches(self, column: str) -> Quantity:
        """Return the cell, in inches, as a length."""
        return Quantity(self.needed(column), "in", "length")

    def inches_or_none(self, column: str) -> Quantity | None:
        """Return the cell, in inches, as a length; ``None`` for an empty cell."""
        value = self.number(column)
        return None if value is None else Quantity(value, "in", "length")


def table_names() -> tuple[str, ...]:
    """Return the names of all tables, in order."""
    names = (f.name for f in resources.files(__package__).joinpath("data").iterdir())
    return tuple(
        sorted(n.removesuffix(".csv") for n in names if n.endswith(".csv") and n != "sources.csv")
    )


@cache
def sources() -> Mapping[str, str]:
    """Return the title of every source by its id."""
    return MappingProxyType({r["source"]: r["title"] for r in _csv("sources")})


@cache
def table_source(name: str) -> TableSource:
    """Return title, designation, edition and conflicts of a table.

    Raises
    ------
    TableRefused
        If the file lacks a field or has an unknown one.
    """
    raw = load_yaml(_read(f"{name}.source.yaml"), where=f"{name}.source.yaml")
    if not isinstance(raw, dict) or sorted(raw) != sorted(_FIELDS):
        raise _damaged(name, "fields of the source file", str(raw)[:80])
    return TableSource(
        table=raw["table"],
        title=raw["title"],
        designation=raw["designation"],
        edition=raw["edition"],
        who_may_read=raw["who_may_read"],
        key=tuple(raw["key"]),
        columns=MappingProxyType(raw["columns"]),
        conflicts=tuple(raw["conflicts"] or ()),
    )


@cache
def records(name: str) -> tuple[Record, ...]:
    """Return the rows of a table.

    Raises
    ------
    TableRefused
        For a row without a known source or confidence.
    """
    about = table_source(name)
    return tuple(_record(about, cells) for cells in _csv(name))


def near(asked: str, known: Iterable[str]) -> str:
    """Return candidates as text for a refusal; never used to answer."""
    names = list(dict.fromkeys(known))
    if len(names) > _SHORT_LIST:
        names = get_close_matches(asked, names, n=6, cutoff=0.5) or names[:_SHORT_LIST]
    return "one of " + ", ".join(names)


def _record(about: TableSource, cells: dict[str, str]) -> Record:
    ids = tuple(s for s in cells["source"].split("; ") if s)
    unknown = [s for s in ids if s not in sources()]
    if unknown or not ids:
        raise _damaged(about.table, "source of a row", cells["source"])
    if cells["confidence"] not in {c.value for c in Confidence}:
        raise _damaged(about.table, "confidence of a row", cells["confidence"])
    return Record(
        MappingProxyType(cells),
        Provenance(
            table=about.table,
            row="/".join(cells[k] for k in about.key),
            designation=cells.get("standard") or about.designation,
            sources=ids,
            confidence=Confidence(cells["confidence"]),
            note=cells["note"],
        ),
    )


def _csv(name: str) -> list[dict[str, str]]:
    rows = list(csv.DictReader(_read(f"{name}.csv").splitlines()))
    for row in rows:
        if None in row or None in row.values():
            raise _damaged(name, "number of cells in a row", str(list(row.values())[:3]))
    return rows


def _read(file: str) -> str:
    return resources.files(__package__).joinpath("data", file).read_text(encoding="utf-8")


def _damaged(table: str, what: str, got: str) -> TableRefused:
    return TableRefused(
        what,
        got=got,
        expected="the table as it was shipped",
        where=table,
        do="Install the package again.",
    )
