"""A face read by loupe and rule: typed lengths give the same kind of reading.

Each length is the difference of two edges read to the instrument's resolution.
An edge read to a resolution ``r`` lies within ``r / 2`` of the mark, all places
alike: standard uncertainty ``(r / 2) / sqrt(3)`` (JCGM 100:2008, 4.3.7).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from .errors import LoupeReadingRefused
from .values import Budget, Segment

Number = Decimal | str | int
Runs = Sequence[tuple[Number, Number]] | Sequence[Number]


@dataclass(frozen=True)
class LoupeMeasurement:
    """One loupe reading of one face; lengths exact decimals in mm.

    ``segments`` are placed only when runs were given as start and end, or there are none;
    otherwise the tuple is empty.
    """

    overlap_mm: Decimal
    unbrazed_mm: Decimal
    resolution_mm: Decimal
    segments: tuple[Segment, ...]
    unbrazed_share: float
    share_exact: tuple[int, int]
    u: float
    interval95: tuple[float, float]
    budget: Budget
    method: str = "loupe/1"
    unsure_share: float = 0.0
    needs_reader: str = ""

    def as_dict(self, *, message: str = "") -> dict[str, Any]:
        """Return the JSON document of a loupe reading, same keys as a photograph's."""
        return {
            "outcome": "measured",
            "code": "",
            "message": message,
            "overlap_px": None,
            "overlap_mm": str(self.overlap_mm),
            "unbrazed_mm": str(self.unbrazed_mm),
            "segments": [s.as_dict() for s in self.segments],
            "unbrazed_share": self.unbrazed_share,
            "u": self.u,
            "interval95": list(self.interval95),
            "unsure_share": self.unsure_share,
            "needs_reader": self.needs_reader,
            "tube_end_px": None,
            "cup_face_px": None,
            "ends_found": "given",
            "given_px": None,
            "candidates": [],
            "method": self.method,
            "image_sha256": "",
            "budget": dict(self.budget),
        }


def read_loupe(overlap_mm: Number, runs_mm: Runs, *, resolution_mm: Number) -> LoupeMeasurement:
    """Make a reading from lengths typed by an examiner.

    Parameters
    ----------
    overlap_mm : Decimal, str or int
        Overlap of the face, tube end to cup face, [mm].
    runs_mm : sequence
        Unbrazed runs: (start, end) from the tube end, or bare lengths, [mm];
        empty when none was seen. No binary floats: they would not be exact.
    resolution_mm : Decimal, str or int
        Smallest step the instrument shows, [mm].

    Raises
    ------
    LoupeReadingRefused
        Numbers that are no exact decimals, runs beyond the overlap, runs that overlap.

    Examples
    --------
    >>> reading = read_loupe("22.0", ["1.1", "0.9", "2.0"], resolution_mm="0.1")
    >>> reading.unbrazed_mm, round(reading.unbrazed_share, 4)
    (Decimal('4.0'), 0.1818)
    """
    overlap = _exact(overlap_mm, "overlap")
    step = _exact(resolution_mm, "resolution")
    _positive(overlap, "overlap")
    _positive(step, "resolution")
    placed = [run for run in runs_mm if isinstance(run, tuple | list)]
    if placed and len(placed) != len(runs_mm):
        raise _refused(
            "runs mix lengths and places",
            f"{len(placed)} with places and {len(runs_mm) - len(placed)} without",
            "all runs as start and end, or all as lengths",
            "Write every run the same way.",
            "unbrazed",
        )
    spans = [_span(run, overlap) for run in placed]
    _check_apart(spans)
    lengths = (
        [end - start for start, end in spans]
        if placed
        else [_length(_as_number(run), overlap) for run in runs_mm]
    )
    total = sum(lengths, Decimal(0))
    if total > overlap:
        raise _refused(
            "the runs are longer than the overlap",
            f"{total} mm",
            f"at most {overlap} mm",
            "Check the lengths against the face.",
            "unbrazed",
        )
    return _reading(overlap, total, step, spans, len(lengths))


def _as_number(run: object) -> Number:
    if isinstance(run, Decimal | str | int):
        return run
    raise _refused(
        "not an exact decimal number",
        repr(run),
        "a decimal number in mm",
        "Write the number as text, like '1.25'.",
        "unbrazed",
    )


def _reading(
    overlap: Decimal,
    total: Decimal,
    step: Decimal,
    spans: list[tuple[Decimal, Decimal]],
    count: int,
) -> LoupeMeasurement:
    share = total / overlap
    edge = float(step) / 2 / math.sqrt(3)
    ends = float(share) * math.sqrt(2) * edge / float(overlap)
    runs = math.sqrt(2 * count) * edge / float(overlap)
    missed = edge / float(overlap)  # a run below the step of the instrument goes unseen
    budget = (("ends", ends), ("segment_ends", runs), ("unseen", missed))
    u = math.sqrt(sum(part * part for _, part in budget))
    value = float(share)
    return LoupeMeasurement(
        overlap_mm=overlap,
        unbrazed_mm=total,
        resolution_mm=step,
        segments=_segments(spans, overlap) if count else (Segment(0.0, 1.0, "brazed", 0.0),),
        unbrazed_share=value,
        share_exact=share_ratio(total, overlap),
        u=u,
        interval95=(max(0.0, value - 1.96 * u), min(1.0, value + 1.96 * u)),
        budget=budget,
    )


def share_ratio(unbrazed: Decimal, overlap: Decimal) -> tuple[int, int]:
    """Return the share as an exact fraction (numerator, denominator), for exact limits.

    Examples
    --------
    >>> share_ratio(Decimal("4.4"), Decimal("22.0"))
    (1, 5)
    """
    top, bottom = unbrazed.as_integer_ratio(), overlap.as_integer_ratio()
    numerator, denominator = top[0] * bottom[1], top[1] * bottom[0]
    divisor = math.gcd(numerator, denominator)
    return numerator // divisor, denominator // divisor


def _segments(spans: list[tuple[Decimal, Decimal]], overlap: Decimal) -> tuple[Segment, ...]:
    found, at = [], 0.0
    for start, end in sorted(spans):
        first, last = float(start / overlap), float(end / overlap)
        if first > at:
            found.append(Segment(at, first, "brazed", 0.0))
        if last > first:
            found.append(Segment(first, last, "unbrazed", 1.0))
        at = last
    if spans and at < 1:
        found.append(Segment(at, 1.0, "brazed", 0.0))
    return tuple(found)


def _exact(value: object, name: str) -> Decimal:
    if isinstance(value, bool) or not isinstance(value, Decimal | str | int):
        raise _refused(
            "not an exact decimal number",
            str(value),
            "a decimal number in mm",
            "Write the number as text, like '12.5'.",
            name,
        )
    try:
        number = Decimal(value)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        raise _refused(
            "not a decimal number",
            str(value),
            "a decimal number in mm",
            "Write the number with a point, like '12.5'.",
            name,
        )
    return number


def _positive(value: Decimal, name: str) -> None:
    if value <= 0:
        raise _refused(
            "a length that is not above 0", f"{value} mm", "above 0 mm", "Measure it again.", name
        )


def _length(run: Number, overlap: Decimal) -> Decimal:
    value = _exact(run, "unbrazed")
    if not 0 <= value <= overlap:
        raise _refused(
            "a run that does not fit the overlap",
            f"{value} mm",
            f"0 to {overlap} mm",
            "Check the length against the face.",
            "unbrazed",
        )
    return value


def _span(run: Sequence[Any], overlap: Decimal) -> tuple[Decimal, Decimal]:
    if len(run) != 2:
        raise _refused(
            "a run without start and end",
            ", ".join(map(str, run)) or "nothing",
            "two places in mm",
            "Write each run as start and end from the tube end.",
            "unbrazed",
        )
    start, end = (_exact(v, "unbrazed") for v in run)
    if not 0 <= start <= end <= overlap:
        raise _refused(
            "a run that does not fit the overlap",
            f"{start} to {end} mm",
            f"a start of 0 mm or more, then an end of at most {overlap} mm",
            "Measure both places from the tube end.",
            "unbrazed",
        )
    return start, end


def _check_apart(spans: list[tuple[Decimal, Decimal]]) -> None:
    ordered = sorted(spans)
    for before, after in itertools.pairwise(ordered):
        if after[0] < before[1]:
            raise _refused(
                "two runs overlap",
                f"{before[0]} to {before[1]} and {after[0]} to {after[1]} mm",
                "runs apart from each other",
                "Join them into one run, or correct the places.",
                "unbrazed",
            )


def _refused(what: str, got: str, expected: str, do: str, where: str = "") -> LoupeReadingRefused:
    return LoupeReadingRefused(what, got=got, expected=expected, do=do, where=where)
