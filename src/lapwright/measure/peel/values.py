"""What is read off a peeled surface: two shares with bounds, paths, the largest places."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from lapwright.core.messages import Message

from .direction import LapDirection
from .lines import WorstLine
from .paths import OPPOSITE, EdgePath

METHOD = "peel-mask-1"


@dataclass(frozen=True)
class Bounds:
    """An exact share: ``low`` counts unsure pixels as sound, ``high`` as discontinuity."""

    low: Fraction
    high: Fraction


@dataclass(frozen=True)
class LineBounds:
    """The worst line with unsure pixels counted as sound (``low``) and as discontinuity."""

    low: WorstLine
    high: WorstLine


@dataclass(frozen=True)
class Place:
    """One discontinuity: its pixels, middle and the edges it touches."""

    area_px: int
    centre_px: tuple[float, float]
    box_px: tuple[int, int, int, int]
    edges: tuple[str, ...]


@dataclass(frozen=True)
class PeelReading:
    """The exact answers for one mask.

    ``line`` looks at every line, of four corners at those that cross both mouth
    and stop edge; ``long_line`` at those of them whose lap is at least half the
    longest one; ``any_line`` at every line in any case. Offsets of lines count
    from the corner of the picture.
    """

    surface_px: int
    discontinuity_px: int
    unsure_px: int
    area: Bounds
    line: LineBounds
    long_line: LineBounds
    any_line: LineBounds
    line_ends_px: tuple[tuple[float, float], tuple[float, float]]
    paths: tuple[EdgePath, ...]
    places: tuple[Place, ...]
    place_count: int
    lap: LapDirection
    warnings: tuple[Message, ...] = ()
    method: str = METHOD

    def path(self, *pair: str) -> str:
        """Return ``yes``, ``possible`` or ``no`` of two edges."""
        return next(p.state for p in self.paths if {p.from_edge, p.to_edge} == set(pair))

    @property
    def through_path(self) -> str:
        """Whether a discontinuity joins two opposite edges."""
        return _most(self.path(*pair) for pair in OPPOSITE)

    @property
    def corner_path(self) -> str:
        """Whether a discontinuity joins two neighbouring edges round a corner."""
        return _most(p.state for p in self.paths if (p.from_edge, p.to_edge) not in OPPOSITE)


def _most(states: Iterable[str]) -> str:
    found = set(states)
    return next((word for word in ("yes", "possible") if word in found), "no")
