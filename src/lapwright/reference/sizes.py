"""Sizes: a designation and the system that gives it a meaning.

Medical-gas and water tube is sized by a nominal size 1/8 in under its outside
diameter; refrigeration tube (ASTM B280) by the outside diameter itself; EN
1254-1 by outside diameter in mm. So "1/2" alone says nothing and is refused, and
so is DN, which is no size of copper tube. Sizes are designations, never floats.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import total_ordering

from lapwright.core.quantities import Quantity, inches

from .errors import DnOnCopperTube, SizeWithoutSystem, UnknownSize
from .standards import SizeSystem, StandardRow, standard, standard_in_use

_INCH_SIZE = re.compile(r"^(?:([1-9]\d*)|(?:([1-9]\d*)-)?([1-9]\d*)/(2|4|8|16))$")
_MM_SIZE = re.compile(r"^([1-9]\d*(?:\.\d+)?) mm$")
_FORMS = {
    SizeSystem.NOMINAL: "a nominal tube size such as 1/2 or 1-1/2",
    SizeSystem.OUTSIDE_INCH: "an outside diameter in inches such as 7/8 or 1-1/8",
    SizeSystem.OUTSIDE_MM: "an outside diameter such as 15 mm",
}


@total_ordering
@dataclass(frozen=True, eq=False)
class NominalSize:
    """A size as designated, and its system; ordered within its system only."""

    designation: str
    system: SizeSystem

    @property
    def number(self) -> Fraction:
        """The number designated: inches, or mm for `SizeSystem.OUTSIDE_MM`."""
        if self.system is SizeSystem.OUTSIDE_MM:
            return Fraction(self.designation.removesuffix(" mm"))
        return sum((Fraction(p) for p in self.designation.split("-")), Fraction(0))

    @property
    def outside_diameter(self) -> Quantity:
        """Outside diameter of the tube of this size, exact.

        Nominal sizes are 1/8 in under the outside diameter (ASTM B88, B819).
        """
        if self.system is SizeSystem.OUTSIDE_MM:
            return Quantity(Decimal(self.designation.removesuffix(" mm")), "mm", "length")
        extra = Fraction(1, 8) if self.system is SizeSystem.NOMINAL else Fraction(0)
        return inches(self.number + extra)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, NominalSize):
            return NotImplemented
        return (self.designation, self.system) == (other.designation, other.system)

    def __lt__(self, other: NominalSize) -> bool:
        if self.system is not other.system:
            raise TypeError(f"cannot order a {self.system.value} and a {other.system.value} size")
        return self.number < other.number

    def __hash__(self) -> int:
        return hash((self.designation, self.system))

    def __str__(self) -> str:
        return self.designation


def parse_size(text: str, *, standard_name: str, where: str = "") -> NominalSize:
    """Read a size as its standard writes it; the standard is never left out.

    Parameters
    ----------
    text : str
        The size, for example ``1-1/2`` (ASTM B819) or ``15 mm`` (EN 1254-1).
    standard_name : str
        Designation that gives the size its meaning.
    where : str, optional
        File and key, put before the refusal.

    Raises
    ------
    SizeWithoutSystem
        If ``standard_name`` is empty.
    DnOnCopperTube
        For a DN size.
    UnknownSize
        If the text is not written as that standard writes sizes.
    UnknownStandard
        If the designation is not known.

    Examples
    --------
    >>> parse_size("1-1/2", standard_name="ASTM B819").outside_diameter.text
    '1.625 in'
    >>> parse_size("7/8", standard_name="ASTM B280").outside_diameter.text
    '0.875 in'
    """
    _refuse_bare(text, standard_name, where)
    return size_in(text, standard(standard_name, where=where).size_system, where=where)


def sized(
    standard_name: str, text: str, *, subject: str, where: str = ""
) -> tuple[NominalSize, StandardRow]:
    """Read a size of a ``tube`` or ``fitting`` standard that is in use; also return that row.

    Raises
    ------
    StandardWithdrawn, UnknownStandard
        As `lapwright.reference.standards.standard_in_use`.
    SizeWithoutSystem, DnOnCopperTube, UnknownSize
        As `parse_size`.
    """
    _refuse_bare(text, standard_name, where)
    about = standard_in_use(standard_name, subject, where=where)
    return size_in(text, about.size_system, where=where), about


def size_in(text: str, system: SizeSystem, *, where: str = "") -> NominalSize:
    """Read a size of a known system; see `parse_size` for what is refused."""
    if re.match(r"^\s*DN", text, re.IGNORECASE):
        raise DnOnCopperTube(
            "DN is no size of copper tube",
            got=text,
            where=where,
            expected=_FORMS[system],
            do="Write the size as the tube standard designates it.",
        )
    pattern = _MM_SIZE if system is SizeSystem.OUTSIDE_MM else _INCH_SIZE
    if not pattern.match(text) or not _is_reduced(text):
        raise UnknownSize(
            "not written as a size of this standard",
            got=text,
            where=where,
            expected=_FORMS[system],
            do="Write the designation exactly: no decimals, no inch mark.",
        )
    return NominalSize(text, system)


def _refuse_bare(text: str, standard_name: str, where: str) -> None:
    if not standard_name.strip():
        raise SizeWithoutSystem(
            "size without its system",
            got=text,
            where=where,
            expected="the size with its standard: ASTM B819 and B88 are nominal, "
            "ASTM B280 is by outside diameter",
            do="Name the standard of the tube or fitting.",
        )


def _is_reduced(text: str) -> bool:
    fraction = text.rpartition("-")[2]
    if "/" not in fraction:
        return True
    above, below = fraction.split("/")
    return int(above) % 2 == 1 and int(above) < int(below)
