"""Uncertainty of the unbrazed share by named parts, combined to first order.

JCGM 100:2008, 5.1.2: independent parts add in squares. The share is
``S = sum(p_i * l_i) / L``; moving an end by ``d`` changes it by
``(p_end - S) * d / L``, moving an inner boundary by ``(p_left - p_right) * d / L``.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

from .segments import expected_share
from .values import Budget, Segment

PIXEL_U = 1 / math.sqrt(12)  # a position known to one pixel: rectangular, JCGM 100:2008, 4.3.7


@dataclass(frozen=True)
class Positions:
    """How well places along the line are known, [px].

    ``ends_u`` are the standard uncertainties of tube end and cup face, ``boundary_u`` that of
    each inner boundary on its own, ``common_u`` that of all boundaries alike
    (voids read longer or shorter throughout), and ``stub`` the longest void at
    an end that would go unseen, rectangular at each end.
    """

    ends_u: tuple[float, float]
    boundary_u: float
    common_u: float = 0.0
    stub: float = 0.0


def share_budget(
    segments: tuple[Segment, ...],
    *,
    overlap_px: float,
    positions: Positions,
    line_u: float,
    class_doubt: float,
) -> Budget:
    """Return the named standard uncertainties of the share.

    Parameters
    ----------
    segments : tuple of Segment
        Whole line, from the tube end.
    overlap_px : float
        Arc length between the ends, [px].
    positions : Positions
        Spreads along the line.
    line_u : float
        Change of the share when the line is shifted across the gap, [-].
    class_doubt : float
        Spread of the share because segments may be the other thing, [-].
    """
    share = expected_share(segments)
    first, last = segments[0].probability, segments[-1].probability
    tube_u, cup_u = positions.ends_u
    ends = math.hypot((first - share) * tube_u, (last - share) * cup_u) / overlap_px
    steps = boundary_steps(segments)
    jump = math.sqrt(sum(step * step for step in steps)) / overlap_px
    alike = sum(abs(step) for step in steps) / overlap_px * positions.common_u
    stubs = math.sqrt(2) * positions.stub * PIXEL_U / overlap_px
    return (
        ("ends", ends),
        ("line", line_u),
        ("segment_ends", math.hypot(jump * positions.boundary_u, alike, stubs)),
        ("class_doubt", class_doubt),
        ("pixel", jump * PIXEL_U),
    )


def boundary_steps(segments: tuple[Segment, ...]) -> list[float]:
    """Return the jump of the probability at every inner boundary."""
    return [a.probability - b.probability for a, b in itertools.pairwise(segments)]


def combined(budget: Budget, *, without: tuple[str, ...] = ("scale",)) -> float:
    """Combine the parts in squares, some left out."""
    return math.sqrt(sum(u * u for name, u in budget if name not in without))
