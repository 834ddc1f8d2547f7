"""Uncertainty of the unbrazed share by named parts, combined to first order.

JCGM 100:2008, 5.1.2: independent parts add in squares. The share is
``S = sum(p_i * l_i) / L``; moving an end by ``d`` changes it by
``(p_end - S) * d / L``, moving an inner boundary by ``(p_left - p_right) * d / L``.
"""

from __future__ import annotations

import itertools
import math

from .segments import expected_share
from .values import Budget, Segment

PIXEL_U = 1 / math.sqrt(12)  # a position known to one pixel: rectangular, JCGM 100:2008, 4.3.7


def share_budget(
    segments: tuple[Segment, ...],
    *,
    overlap_px: float,
    ends_u_px: float,
    boundary_u_px: float,
    line_u: float,
    stub_px: float = 0.0,
) -> Budget:
    """Return the named standard uncertainties of the share.

    Parameters
    ----------
    segments : tuple of Segment
        Whole line, from the tube end.
    overlap_px : float
        Arc length between the ends, [px].
    ends_u_px : float
        Standard uncertainty of each end along the line, [px].
    boundary_u_px : float
        Standard uncertainty of each inner boundary, [px].
    line_u : float
        Change of the share when the line is shifted across the gap, [-].
    stub_px : float, optional
        Longest void at an end that would go unseen, [px]; rectangular at each end.
    """
    share = expected_share(segments)
    first, last = segments[0].probability, segments[-1].probability
    ends = math.hypot(first - share, last - share) * ends_u_px / overlap_px
    steps = boundary_steps(segments)
    jump = math.sqrt(sum(step * step for step in steps)) / overlap_px
    stubs = math.sqrt(2) * stub_px * PIXEL_U / overlap_px
    return (
        ("ends", ends),
        ("line", line_u),
        ("segment_ends", math.hypot(jump * boundary_u_px, stubs)),
        ("class_doubt", class_doubt(segments)),
        ("pixel", jump * PIXEL_U),
    )


def boundary_steps(segments: tuple[Segment, ...]) -> list[float]:
    """Return the jump of the probability at every inner boundary."""
    return [a.probability - b.probability for a, b in itertools.pairwise(segments)]


def class_doubt(segments: tuple[Segment, ...]) -> float:
    """Standard uncertainty from not knowing the state: each segment is one yes or no, [-]."""
    return math.sqrt(
        sum((s.end - s.start) ** 2 * s.probability * (1 - s.probability) for s in segments)
    )


def combined(budget: Budget, *, without: tuple[str, ...] = ("scale",)) -> float:
    """Combine the parts in squares, some left out."""
    return math.sqrt(sum(u * u for name, u in budget if name not in without))
