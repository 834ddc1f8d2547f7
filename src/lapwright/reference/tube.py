"""Copper tube: ASTM B819 (medical gas), ASTM B88 (water), ASTM B280 (refrigeration).

Exact lookups by standard, type and size. ASTM B819 has types K and L only and is
hard drawn; ASTM B280 tube has a temper that must be named.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from lapwright.core.quantities import Quantity, inches

from .errors import SeveralRows, TemperRefused, UnknownSize, UnknownType
from .sizes import NominalSize, size_in, sized
from .standards import StandardRow, standard_in_use
from .tables import Record, Sourced, near, records


@dataclass(frozen=True)
class TubeRow(Sourced):
    """One tube; ``None`` where the table has no figure.

    ``weight_lb_per_ft`` is the printed weight, ``bore_ft3_per_ft`` the printed
    bore volume; lengths carry their unit.
    """

    standard: str
    type_: str
    size: NominalSize
    temper: str
    od: Quantity
    wall_nominal: Quantity
    wall_minimum: Quantity | None
    id: Quantity
    od_annealed_plus_minus: Quantity | None
    od_drawn_plus: Quantity | None
    od_drawn_minus: Quantity | None
    weight_lb_per_ft: Decimal | None
    bore_ft3_per_ft: Decimal | None

    def od_limits(self, temper: str) -> tuple[Quantity, Quantity]:
        """Return smallest and largest outside diameter for ``annealed`` or ``drawn``.

        Raises
        ------
        TemperRefused
            If the table has no tolerance for that temper.
        """
        if temper == "annealed":
            minus = plus = self.od_annealed_plus_minus
        elif temper == "drawn":
            minus, plus = self.od_drawn_minus, self.od_drawn_plus
        else:
            minus = plus = None
        if minus is None or plus is None:
            raise TemperRefused(
                "no diameter tolerance for this temper",
                got=temper or "nothing",
                where=self.row,
                expected="a temper the table has tolerances for",
                do="Measure the outside diameter.",
            )
        return inches(self.od.inches - minus.inches), inches(self.od.inches + plus.inches)


def tube(
    standard: str,
    size: str,
    *,
    type_: str | None = None,
    temper: str | None = None,
    wall: str | None = None,
    where: str = "",
) -> TubeRow:
    """Return the one tube of a standard, type and size.

    Parameters
    ----------
    standard : str
        ``ASTM B819``, ``ASTM B88`` or ``ASTM B280``.
    size : str
        As designated: nominal (B819, B88) or outside diameter (B280).
    type_ : str, optional
        ``K``, ``L``, and ``M`` in B88; ``ACR`` or nothing in B280.
    temper : str, optional
        ``annealed`` or ``drawn``; must be given for B280. B819 is drawn only.
    wall : str, optional
        Nominal wall in inches as listed, where a B280 size has two.
    where : str, optional
        File and key, put before a refusal.

    Returns
    -------
    TubeRow
        Lengths in inches, exact.

    Raises
    ------
    UnknownStandard, StandardWithdrawn, UnknownType, TemperRefused
        If the table does not have them; with near candidates.
    SizeWithoutSystem, DnOnCopperTube, UnknownSize
        For a size not designated so.
    SeveralRows
        If two walls are listed and none is named.

    Examples
    --------
    >>> tube("ASTM B819", "1-1/2", type_="L").wall_nominal.text
    '0.060 in'
    """
    wanted, about = sized(standard, size, subject="tube", where=where)
    kind = _type_of(about, type_ or "", where)
    _check_temper(about, temper or "", where)
    rows = [r for r in _rows(standard) if r.type_ == kind and r.temper in ("", temper or "")]
    if wanted.designation not in {r.size.designation for r in rows}:
        raise UnknownSize(
            f"no such size in {standard}, type {kind}",
            got=size,
            where=where,
            expected=near(size, (r.size.designation for r in rows)),
            do="Check size, type and temper.",
        )
    found = [r for r in rows if r.size == wanted]
    if wall:
        found = [r for r in found if str(r.wall_nominal.value) == wall]
    if len(found) != 1:
        walls = ", ".join(str(r.wall_nominal.value) for r in rows if r.size == wanted)
        raise SeveralRows(
            f"wall of {standard} {size}",
            got=wall or "none",
            where=where,
            expected=f"one of {walls} in",
            do="Name the nominal wall.",
        )
    return found[0]


def tube_sizes(standard: str, type_: str = "") -> tuple[NominalSize, ...]:
    """Return the sizes of a tube standard and type, smallest first."""
    about = standard_in_use(standard, "tube")
    kind = _type_of(about, type_, "")
    return tuple(sorted({r.size for r in _rows(standard) if r.type_ == kind}))


@cache
def _rows(standard: str) -> tuple[TubeRow, ...]:
    about = standard_in_use(standard, "tube")
    table = "tube_b280" if standard == "ASTM B280" else "tube_b88_b819"
    return tuple(_row(r, about) for r in records(table) if r.text("standard") == standard)


def _row(record: Record, about: StandardRow) -> TubeRow:
    has = record.cells.__contains__
    return TubeRow(
        provenance=record.provenance,
        standard=record.text("standard"),
        type_=record.text("type"),
        size=size_in(record.text("size"), about.size_system),
        temper=record.text("temper") if has("temper") else "",
        od=record.inches("od_in"),
        wall_nominal=record.inches("wall_in"),
        wall_minimum=_optional(record, "wall_minimum_in"),
        id=record.inches("id_in"),
        od_annealed_plus_minus=_optional(record, "od_annealed_plus_minus_in"),
        od_drawn_plus=_optional(record, "od_drawn_plus_in"),
        od_drawn_minus=_optional(record, "od_drawn_minus_in"),
        weight_lb_per_ft=record.number("weight_lb_per_ft") if has("weight_lb_per_ft") else None,
        bore_ft3_per_ft=record.number("bore_ft3_per_ft") if has("bore_ft3_per_ft") else None,
    )


def _optional(record: Record, column: str) -> Quantity | None:
    return record.inches_or_none(column) if column in record.cells else None


def _type_of(about: StandardRow, type_: str, where: str) -> str:
    if not type_ and len(about.types) == 1:
        return about.types[0]
    if type_ not in about.types:
        raise UnknownType(
            f"no such type in {about.designation}",
            got=type_ or "nothing",
            where=where,
            expected="one of " + ", ".join(about.types),
            do="Name the type printed on the tube.",
        )
    return type_


def _check_temper(about: StandardRow, temper: str, where: str) -> None:
    allowed = {"ASTM B819": ("", "drawn"), "ASTM B280": ("annealed", "drawn")}.get(
        about.designation, ("", "annealed", "drawn")
    )
    if temper not in allowed:
        raise TemperRefused(
            f"temper of {about.designation}",
            got=temper or "nothing",
            where=where,
            expected="one of " + ", ".join(t for t in allowed if t),
            do="Name the temper of the tube.",
        )
