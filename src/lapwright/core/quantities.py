"""Exact quantities: a decimal number as written, with its unit.

What was measured is kept in the unit it was measured in and compared exactly
(``1 in = 25.4 mm``); nothing is rounded before display.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property, total_ordering

from .errors import QuantityRefused

_INCH = Fraction(254, 10)  # mm, exact by definition (1959 international yard)

# kind -> unit -> (factor, offset) to the base unit of the kind: base = value * factor + offset
UNITS: dict[str, dict[str, tuple[Fraction, Fraction]]] = {
    "length": {
        "mm": (Fraction(1), Fraction(0)),
        "in": (_INCH, Fraction(0)),
        "um": (Fraction(1, 1000), Fraction(0)),
        "ft": (_INCH * 12, Fraction(0)),
    },
    "angle": {"deg": (Fraction(1), Fraction(0))},
    "temperature": {"C": (Fraction(1), Fraction(0)), "F": (Fraction(5, 9), Fraction(-160, 9))},
    "pressure": {
        "psi": (Fraction(1), Fraction(0)),
        "ksi": (Fraction(1000), Fraction(0)),
        "kPa": (Fraction(1000) / Fraction("6894.757293168"), Fraction(0)),
        "MPa": (Fraction(1000000) / Fraction("6894.757293168"), Fraction(0)),
    },
    "flow": {
        "ft3/h": (Fraction(1), Fraction(0)),
        "L/min": (Fraction(60) / Fraction("28.316846592"), Fraction(0)),
    },
    "share": {
        "%": (Fraction(1, 100), Fraction(0)),
        "ppm": (Fraction(1, 1000000), Fraction(0)),
        "-": (Fraction(1), Fraction(0)),
    },
    "duration": {
        "s": (Fraction(1), Fraction(0)),
        "min": (Fraction(60), Fraction(0)),
        "h": (Fraction(3600), Fraction(0)),
    },
}
_FORM = re.compile(r"^([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([A-Za-z%µ3/-]+)$")


@total_ordering
@dataclass(frozen=True, eq=False)
class Quantity:
    """A decimal number as written and its unit; equality and order are exact.

    Examples
    --------
    >>> Quantity.parse("1 in", "length") == Quantity.parse("25.4 mm", "length")
    True
    >>> Quantity.parse("0.060 in", "length").text
    '0.060 in'
    """

    value: Decimal
    unit: str
    kind: str

    @classmethod
    def parse(cls, text: str, kind: str, *, where: str = "") -> Quantity:
        """Read ``"0.060 in"``; the unit is never left out.

        Raises
        ------
        QuantityRefused
            If the text is not a decimal number followed by a unit of ``kind``.
        """
        units = UNITS[kind]
        match = _FORM.match(text.strip())
        if match is None or match.group(2) not in units:
            raise QuantityRefused(
                f"not a {kind} with its unit",
                got=text,
                where=where,
                expected="a decimal number and one of " + ", ".join(units),
                do=f"Write it like '{_EXAMPLE[kind]}'.",
            )
        return cls(Decimal(match.group(1)), match.group(2), kind)

    @cached_property
    def base(self) -> Fraction:
        """Exact value in the base unit of the kind (mm, deg, C, psi, ft3/h, share, s)."""
        factor, offset = UNITS[self.kind][self.unit]
        return Fraction(self.value) * factor + offset

    @property
    def inches(self) -> Fraction:
        """Exact value in inches; only for lengths."""
        if self.kind != "length":
            raise TypeError(f"{self.kind} has no inches")
        return self.base / _INCH

    @property
    def text(self) -> str:
        """The quantity as it was written."""
        return f"{self.value} {self.unit}"

    def times(self, factor: Decimal | Fraction | str) -> Quantity:
        """Return the quantity multiplied by an exact factor, in its own unit."""
        product = Fraction(self.value) * Fraction(factor)
        return Quantity(
            Decimal(product.numerator) / Decimal(product.denominator), self.unit, self.kind
        )

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Quantity):
            return NotImplemented
        return self.kind == other.kind and self.base == other.base

    def __lt__(self, other: Quantity) -> bool:
        if self.kind != other.kind:
            raise TypeError(f"cannot compare {self.kind} with {other.kind}")
        return self.base < other.base

    def __hash__(self) -> int:
        return hash((self.kind, self.base))

    def __str__(self) -> str:
        return self.text


_EXAMPLE = {
    "length": "0.060 in",
    "angle": "12 deg",
    "temperature": "1350 F",
    "pressure": "55 psi",
    "flow": "15 ft3/h",
    "share": "0.8 %",
    "duration": "8 h",
}


def length(text: str, *, where: str = "") -> Quantity:
    """Read a length such as ``0.060 in`` or ``8.6 mm``."""
    return Quantity.parse(text, "length", where=where)


def inches(value: str | Decimal | Fraction) -> Quantity:
    """Make a length from an exact number of inches."""
    exact = Fraction(value)
    return Quantity(Decimal(exact.numerator) / Decimal(exact.denominator), "in", "length")
