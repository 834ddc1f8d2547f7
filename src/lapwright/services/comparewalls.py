"""Walls and overlaps of the two sides of a comparison as spans, reckoned under one basis.

The fitting's range follows the thickness readings of the new employer's basis, as on a
record: under S3, say, it comes from the coupon's tube wall, under S5 from the fitting's own.
So a record, compared under its own readings, shows the ranges that it prints.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lapwright.core import evidence as ev
from lapwright.core.outcomes import Outcome
from lapwright.core.quantities import Quantity, length
from lapwright.rules.ranges import TestedJoint, needed_together, overlap_ceiling
from lapwright.rules.rulebook import Adopted, Rule
from lapwright.rules.sidebyside import Span
from lapwright.rules.thickness import (
    CouponWalls,
    WallRange,
    fitting_range,
    overlap_of_ranges,
    range_of_wall,
)

from .text import word

Spans = dict[str, tuple[Span, ...]]
Notes = dict[str, str]
TUBE, FITTING, OVERLAP = "tube_wall", "fitting_wall", "overlap"


@dataclass(frozen=True)
class Reckoning:
    """What ranges are reckoned with: the new employer's editions and thickness readings."""

    adopted: Adopted
    readings: tuple[str, ...]

    @property
    def bands(self) -> Rule | None:
        """The rule that says which walls a coupon's wall qualifies."""
        return next((r for r in self.adopted.all("thickness.bands") if r.value is not None), None)


def procedure_spans(pqrs: Sequence[ev.Pqr], under: Reckoning) -> Spans:
    """Return what the records behind a procedure let its brazers do; each stands alone."""
    groups = [[CouponWalls(p.tube_wall, p.fitting_wall, "")] for p in pqrs]
    overlaps = [p.overlap for p in pqrs if p.overlap is not None]
    floor = (Span(min(overlaps), None),) if overlaps else ()
    return {**_walls(groups, under), OVERLAP: floor}


def tested_spans(tests: Sequence[TestedJoint], under: Reckoning) -> tuple[Spans, Notes]:
    """Return what joints that passed prove, with a note of the coupons' own figures.

    Joints that passed together count by what all of them serve, as on the record; of the
    overlap the least of each position counts.
    """
    walls = [[t.walls for t in group] for group in needed_together(tests)]
    least: dict[str, list[Quantity]] = {}
    for test in tests:
        if test.overlap is not None:
            least.setdefault(test.position, []).append(test.overlap)
    overlap = min((min(found) for found in least.values()), default=None)
    ceiling, note = _ceiling(overlap.text if overlap else "", "", under.adopted)
    every = [w for group in walls for w in group]
    return {**_walls(walls, under), OVERLAP: ceiling}, {**_notes(every, under), OVERLAP: note}


def typed_spans(
    variables: Mapping[str, Any], printed: Mapping[str, Any], under: Reckoning
) -> tuple[Spans, Notes]:
    """Return what a typed paper proves; a range that it prints stands in for a missing figure."""
    walls = CouponWalls(
        _length(variables.get(TUBE, "")),
        _length(variables.get(FITTING, "")),
        variables.get("tube", {}).get("type", ""),
    )
    spans, notes = _walls([[walls]], under), _notes([walls], under)
    for name in (TUBE, FITTING):
        if name in spans and not spans[name] and printed.get(name):
            row = printed[name]
            spans[name] = (Span(length(row["low"]), length(row["high"])),)
            notes[name] = word("compare.note.printed")
    ceiling, note = _ceiling(
        variables.get(OVERLAP, ""), printed.get("overlap_up_to", ""), under.adopted
    )
    return {**spans, OVERLAP: ceiling}, {**notes, OVERLAP: note}


def _walls(groups: Iterable[Sequence[CouponWalls]], under: Reckoning) -> Spans:
    """Return the spans of tube and fitting; without the fitting where no reading asks for it."""
    bands, found = under.bands, list(groups)
    if bands is None:
        return {TUBE: (), FITTING: ()}
    tubes = [[_tube(w, bands) for w in g] for g in found]
    fits = [[fitting_range(w, under.readings, bands) for w in g] for g in found]
    spans = {TUBE: _together(tubes)}
    if not found or any(f is not None for g in fits for f in g):
        spans[FITTING] = _together(fits)
    return spans


def _tube(walls: CouponWalls, bands: Rule) -> WallRange | Outcome:
    return range_of_wall(walls.tube, bands) if walls.tube is not None else Outcome.UNDETERMINED


def _together(groups: Iterable[Sequence[WallRange | Outcome | None]]) -> tuple[Span, ...]:
    """Return what each group has in common; a group that lacks a figure says nothing."""
    found = []
    for group in groups:
        ranges = [r for r in group if isinstance(r, WallRange)]
        if ranges and Outcome.UNDETERMINED not in group:
            common = overlap_of_ranges(ranges)
            if common.low <= common.high:
                found.append(Span(common.low, common.high))
    return tuple(found)


def _notes(walls: Sequence[CouponWalls], under: Reckoning) -> Notes:
    """Return the coupons' own walls, and for a fitting from which wall its range comes."""
    tube = _texts(w.tube for w in walls)
    fitting = _texts(w.fitting for w in walls)
    notes = {TUBE: word("compare.note.coupon", wall=tube) if tube else ""}
    told = word("compare.note.coupon", wall=fitting) if fitting else ""
    by_tube = [
        r
        for r in under.readings
        if r in ("S3", "S4", "S6", "S7")
        or (r in ("S8", "S9") and any(w.tube_type == "K" for w in walls))
    ]
    if by_tube and tube:
        told = word(
            "compare.note.by_tube", fitting=fitting or "–", tube=tube, readings=", ".join(by_tube)
        )
    return {**notes, FITTING: told}


def _texts(walls: Iterable[Quantity | None]) -> str:
    return ", ".join(sorted({w.text for w in walls if w is not None}))


def _length(typed: str) -> Quantity | None:
    return length(typed) if typed else None


def _ceiling(typed: str, printed: str, adopted: Adopted) -> tuple[tuple[Span, ...], str]:
    rules = [r for r in adopted.all("overlap.max_increase") if r.value is not None]
    if typed and rules:
        highest = min(overlap_ceiling(length(typed), r) for r in rules)
        return (Span(None, highest),), word("compare.note.coupon", wall=typed)
    if not printed:
        return (), ""
    return (Span(None, length(printed)),), word("compare.note.printed")
