"""Sound filler from the mouth inwards: how deep it reaches before the first unbrazed place.

A sum of voids and the depth of sound filler at the worst point are different ideas
of one joint, and it can pass one and fail the other; so both are kept of every face.
Plain Python: the figures come from the segments alone and can be redone by hand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from lapwright.measure.values import Segment

TOUCH = 1e-9  # ends of neighbouring segments that differ by rounding alone
WALLS = 3  # HTM 02-01 Part A: penetration at every point at least three walls (from memory)


@dataclass(frozen=True)
class SoundLength:
    """Sound stretches of one face, as shares of the overlap.

    ``from_mouth`` runs from the cup face to the first stretch that is not brazed;
    ``longest`` is the longest anywhere. Each is (share, low, high): the share goes
    by the likelier state of what is unsure, ``low`` counts it as unbrazed, ``high``
    as brazed. ``longest_at`` holds the ends of the longest, from the tube end.
    """

    from_mouth: tuple[float, float, float]
    longest: tuple[float, float, float]
    longest_at: tuple[float, float]

    def as_dict(self, *, overlap_px: float, overlap_mm: float | None = None) -> dict[str, Any]:
        """Return the figures for JSON.

        Parameters
        ----------
        overlap_px, overlap_mm : float, optional
            The overlap they are shares of.
        """
        found: dict[str, Any] = {
            "from_mouth": _length(self.from_mouth, overlap_px, overlap_mm),
            "longest": _length(self.longest, overlap_px, overlap_mm),
            "three_walls": None,
        }
        found["longest"]["start"], found["longest"]["end"] = self.longest_at
        return found


def sound_from_mouth(segments: Sequence[Segment]) -> SoundLength:
    """Return how deep sound filler reaches from the mouth, and the longest sound stretch.

    Parameters
    ----------
    segments : sequence of Segment
        The whole line in order from the tube end (0) to the cup face (1).

    Raises
    ------
    ValueError
        If the segments do not follow each other from 0 to 1.

    Notes
    -----
    A segment that is unsure counts as brazed where its probability of being unbrazed
    is below one half.

    Examples
    --------
    Overlap 22 mm with one void of 4 mm at the mouth: nothing is sound from there.

    >>> face = [Segment(0, 18 / 22, "brazed", 0.0), Segment(18 / 22, 1, "unbrazed", 1.0)]
    >>> sound_from_mouth(face).from_mouth
    (0.0, 0.0, 0.0)
    """
    _check(segments)
    likely, low, high = (_stretches(segments, limit) for limit in (None, 0.0, 1.0))
    longest = max(likely, key=lambda s: s[1] - s[0], default=(0.0, 0.0))
    return SoundLength(
        (_at_mouth(likely), _at_mouth(low), _at_mouth(high)),
        (_longest(likely), _longest(low), _longest(high)),
        longest,
    )


def _check(segments: Sequence[Segment]) -> None:
    ends = [0.0, *(s.end for s in segments)]
    apart = [abs(s.start - e) for s, e in zip(segments, ends, strict=False)]
    if not segments or max(apart) > TOUCH or abs(ends[-1] - 1) > TOUCH:
        raise ValueError(f"segments do not follow each other from 0 to 1: {list(segments)}")


def _stretches(segments: Sequence[Segment], limit: float | None) -> list[tuple[float, float]]:
    """Return the sound stretches joined; unsure counts as sound with ``limit`` 1, never with 0."""
    found: list[tuple[float, float]] = []
    for s in segments:
        doubtful = s.probability < 0.5 if limit is None else limit > 0.5
        if s.state == "unbrazed" or (s.state == "unsure" and not doubtful):
            continue
        if found and abs(found[-1][1] - s.start) <= TOUCH:
            found[-1] = (found[-1][0], s.end)
        else:
            found.append((s.start, s.end))
    return found


def _at_mouth(stretches: list[tuple[float, float]]) -> float:
    if not stretches or abs(stretches[-1][1] - 1) > TOUCH:
        return 0.0
    return 1.0 - stretches[-1][0]


def _longest(stretches: list[tuple[float, float]]) -> float:
    return max((b - a for a, b in stretches), default=0.0)


def _length(
    bounds: tuple[float, float, float], overlap_px: float, overlap_mm: float | None
) -> dict[str, Any]:
    share, low, high = bounds
    found: dict[str, Any] = {"share": share, "low": low, "high": high, "px": share * overlap_px}
    found["mm"] = None if overlap_mm is None else share * overlap_mm
    return found


def in_walls(
    from_mouth: Mapping[str, Any], overlap_mm: float | None, tube_wall_mm: float
) -> dict[str, Any]:
    """Set a sound length beside three walls of the tube: figures to compare, no verdict.

    Parameters
    ----------
    from_mouth : mapping
        ``share``, ``low`` and ``high`` as of `SoundLength.as_dict`.
    overlap_mm : float or None
        The overlap, [mm]; without it the lengths in walls are None.
    tube_wall_mm : float
        Wall of the tube away from the joint, [mm].
    """
    found: dict[str, Any] = {"wall_mm": tube_wall_mm, "three_walls_mm": WALLS * tube_wall_mm}
    for name, key in (("from_mouth", "share"), ("low", "low"), ("high", "high")):
        share = float(from_mouth[key])
        found[f"{name}_walls"] = None if overlap_mm is None else share * overlap_mm / tube_wall_mm
    return found
