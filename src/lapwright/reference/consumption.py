"""Printed use of filler and of solder for one joint (Copper Tube Handbook).

The brazing table assumes two thirds of a *solder* cup; it is no table for braze
cups. Lengths in inches, weights in pounds for 100 joints.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from .errors import UnknownProperty, UnknownSize
from .sizes import NominalSize, size_in
from .standards import SizeSystem
from .tables import Sourced, near, records


@dataclass(frozen=True)
class FillerUseRow(Sourced):
    """Filler for one joint by form of wire, [in], and [lb] for 100 joints."""

    size: NominalSize
    wire_1_16_in: Decimal | None
    rod_1_8_by_050_in: Decimal
    wire_3_32_in: Decimal
    wire_1_8_in: Decimal
    weight_lb_per_100: Decimal


@dataclass(frozen=True)
class SolderUseRow(Sourced):
    """Solder for one joint at one radial gap, 1/8 in wire, [in]."""

    size: NominalSize
    gap_in: Decimal
    tube_od_in: Decimal
    cup_depth_in: Decimal
    wire_1_8_in: Decimal
    weight_lb_per_100: Decimal | None


def filler_use(size: str, *, where: str = "") -> FillerUseRow:
    """Return the printed use of brazing filler for a nominal size.

    Raises
    ------
    UnknownSize
        For a size not listed.
    """
    wanted = size_in(size, SizeSystem.NOMINAL, where=where)
    for r in records("filler_use"):
        if r.text("size") == wanted.designation:
            return FillerUseRow(
                r.provenance,
                wanted,
                r.number("wire_1_16_length_in"),
                r.needed("rod_1_8_by_050_length_in"),
                r.needed("wire_3_32_length_in"),
                r.needed("wire_1_8_length_in"),
                r.needed("weight_lb_per_100_joints"),
            )
    raise UnknownSize(
        "no filler use printed for this size",
        got=size,
        where=where,
        expected=near(size, (r.text("size") for r in records("filler_use"))),
        do="Use a listed size, or compute it.",
    )


def solder_use(size: str, gap_in: str, *, where: str = "") -> SolderUseRow:
    """Return the printed use of solder for a nominal size and radial gap such as ``0.005``.

    Raises
    ------
    UnknownSize
        For a size not listed.
    UnknownProperty
        For a gap not listed.
    """
    wanted = size_in(size, SizeSystem.NOMINAL, where=where)
    rows = [r for r in solder_uses() if r.size == wanted]
    if not rows:
        raise UnknownSize(
            "no solder use printed for this size",
            got=size,
            where=where,
            expected=near(size, (r.size.designation for r in solder_uses())),
            do="Use a listed size, or compute it.",
        )
    for row in rows:
        if str(row.gap_in) == gap_in:
            return row
    raise UnknownProperty(
        "no solder use printed for this gap",
        got=gap_in,
        where=where,
        expected="one of " + ", ".join(str(r.gap_in) for r in rows),
        do="Use a listed gap, or compute it.",
    )


def solder_uses() -> tuple[SolderUseRow, ...]:
    """Return the whole printed solder table."""
    return tuple(
        SolderUseRow(
            r.provenance,
            size_in(r.text("size"), SizeSystem.NOMINAL),
            r.needed("gap_in"),
            r.needed("tube_od_in"),
            r.needed("cup_depth_in"),
            r.needed("wire_1_8_length_in"),
            r.number("weight_lb_per_100_joints"),
        )
        for r in records("solder_use")
    )
