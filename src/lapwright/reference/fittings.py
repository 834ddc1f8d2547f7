"""Fitting ends: least cup depth, least male length, diameters, and wall hypotheses.

Table depths are *least* depths: a real cup is deeper, so a table depth must
not stand for the largest cup of a job. The wall of a fitting stands in no table we
could read: `wall_guess` returns hypotheses, and no verdict may act on them; the
measured wall, or a range table that the programme signed, is what counts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from lapwright.core.quantities import Quantity

from .errors import UnknownEnd, UnknownSize
from .sizes import NominalSize, size_in, sized
from .standards import SizeSystem, standard_in_use
from .tables import Confidence, Record, Sourced, near, records


@dataclass(frozen=True)
class CupRow(Sourced):
    """Least depth of a cup (or least length of a male end) of one size.

    ``conflict`` holds the values that disagree where the row is unresolved.
    """

    standard: str
    end: str
    size: NominalSize
    tube_od: Quantity
    depth_min: Quantity
    conflict: str


@dataclass(frozen=True)
class EndRow(Sourced):
    """One diameter of a fitting end, for example ``cup-id-max``."""

    standard: str
    quantity: str
    size: NominalSize
    value: Quantity


@dataclass(frozen=True)
class WallHypothesis(Sourced):
    """A guess at a fitting's wall; cited as memory whatever its stand-in rests on."""

    hypothesis: str
    size: NominalSize
    wall: Quantity


def cup(standard: str, size: str, *, where: str = "") -> CupRow:
    """Return the least cup depth of a fitting standard and size.

    Parameters
    ----------
    standard : str
        ``ASME B16.50`` (braze cup), ``ASME B16.22``, ``ASME B16.18`` (solder cup)
        or ``EN 1254-1`` (capillary end).
    size : str
        As designated by that standard.
    where : str, optional
        File and key, put before a refusal.

    Returns
    -------
    CupRow
        Depth in inches, in mm for EN 1254-1.

    Raises
    ------
    UnknownStandard, StandardWithdrawn
        For a designation not listed; MSS SP-73 is withdrawn.
    SizeWithoutSystem, DnOnCopperTube, UnknownSize
        For a size not designated so.

    Examples
    --------
    >>> cup("ASME B16.50", "2").depth_min.text
    '0.40 in'
    """
    return _end(standard, size, ("braze-cup", "solder-cup", "capillary-end"), where)


def male_end(standard: str, size: str, *, where: str = "") -> CupRow:
    """Return the least length of a male fitting end; refused as `cup` does."""
    return _end(standard, size, ("male-end",), where)


def cup_sizes(standard: str) -> tuple[NominalSize, ...]:
    """Return the sizes that `cup` knows for a standard, smallest first."""
    about = standard_in_use(standard, "fitting")
    return tuple(
        sorted(
            {
                size_in(r.text("size"), about.size_system)
                for r in records("fitting_cups")
                if r.text("standard") == standard and r.text("end") != "male-end"
            }
        )
    )


def fitting_end(standard: str, quantity: str, size: str, *, where: str = "") -> EndRow:
    """Return one diameter of a fitting end.

    Parameters
    ----------
    standard : str
        ``ASME B16.22``; cups of ``ASME B16.50`` are believed equal (recalled).
    quantity : str
        ``cup-id-min``, ``cup-id-max``, ``male-od-min``, ``male-od-max``, ``bore-min``,
        ``printed-clearance-max`` or ``printed-tube-od-min``.
    size : str
        Nominal size.
    where : str, optional
        File and key, put before a refusal.

    Raises
    ------
    UnknownEnd
        For a quantity that the standard has no figures for.
    UnknownSize
        For a size that the quantity has no figure for.
    """
    wanted, _ = sized(standard, size, subject="fitting", where=where)
    rows = [r for r in records("fitting_ends") if r.text("standard") == standard]
    quantities = {r.text("quantity") for r in rows}
    if quantity not in quantities:
        raise UnknownEnd(
            f"no such diameter for {standard}",
            got=quantity,
            where=where,
            expected=near(quantity, sorted(quantities)),
            do="Use a listed quantity, or measure the fitting.",
        )
    rows = [r for r in rows if r.text("quantity") == quantity]
    record = _of_size(rows, wanted, f"{standard}, {quantity}", where)
    return EndRow(record.provenance, standard, quantity, wanted, record.inches("value_in"))


def wall_guess(hypothesis: str, size: str, *, where: str = "") -> WallHypothesis:
    """Return a hypothesis on a fitting's wall; never a basis for a verdict.

    Parameters
    ----------
    hypothesis : str
        ``wrought-minimum-recalled``, ``type-m-tube-stand-in``, ``cast-body-pattern``
        or ``cast-joint-pattern``.
    size : str
        Nominal size.
    where : str, optional
        File and key, put before a refusal.

    Raises
    ------
    UnknownEnd
        For another hypothesis.
    UnknownSize
        For a size it has no figure for.
    """
    wanted = size_in(size, SizeSystem.NOMINAL, where=where)
    kinds = {r.text("hypothesis") for r in records("fitting_walls")}
    if hypothesis not in kinds:
        raise UnknownEnd(
            "no such hypothesis",
            got=hypothesis,
            where=where,
            expected=near(hypothesis, sorted(kinds)),
            do="Measure the wall of the fitting.",
        )
    rows = [r for r in records("fitting_walls") if r.text("hypothesis") == hypothesis]
    record = _of_size(rows, wanted, hypothesis, where)
    return WallHypothesis(
        replace(record.provenance, confidence=Confidence.MEMORY),
        hypothesis,
        wanted,
        record.inches("wall_in"),
    )


def _end(standard: str, size: str, ends: tuple[str, ...], where: str) -> CupRow:
    wanted, about = sized(standard, size, subject="fitting", where=where)
    rows = [
        r
        for r in records("fitting_cups")
        if r.text("standard") == standard and r.text("end") in ends
    ]
    if not rows:
        raise UnknownEnd(
            f"no such end for {standard}",
            got=", ".join(ends),
            where=where,
            expected="an end the table has",
            do="Measure the fitting.",
        )
    record = _of_size(rows, wanted, standard, where)
    unit = "mm" if about.size_system is SizeSystem.OUTSIDE_MM else "in"
    return CupRow(
        provenance=record.provenance,
        standard=standard,
        end=record.text("end"),
        size=wanted,
        tube_od=Quantity(record.needed(f"tube_od_{unit}"), unit, "length"),
        depth_min=Quantity(record.needed(f"depth_min_{unit}"), unit, "length"),
        conflict=record.text("conflict_in"),
    )


def _of_size(rows: list[Record], size: NominalSize, what: str, where: str) -> Record:
    for record in rows:
        if record.text("size") == size.designation:
            return record
    raise UnknownSize(
        f"no such size in {what}",
        got=size.designation,
        where=where,
        expected=near(size.designation, (r.text("size") for r in rows)),
        do="Check the size, or measure the fitting.",
    )
