"""Measured values: a number with its spread, a segment, a face measurement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lapwright.core.messages import Message

from .errors import OverlapOutOfRange

Point = tuple[float, float]
Budget = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Measured:
    """A value and the half width of its 95 % interval (twice the standard uncertainty)."""

    value: float
    plus_minus: float
    unit: str

    @property
    def u(self) -> float:
        """Standard uncertainty, in ``unit``."""
        return self.plus_minus / 2


@dataclass(frozen=True)
class Segment:
    """A stretch of the line; ``start`` and ``end`` are shares from the tube end.

    ``state`` is ``brazed``, ``unbrazed`` or ``unsure``; ``probability`` is the
    mean probability that the stretch is unbrazed.
    """

    start: float
    end: float
    state: str
    probability: float

    def as_dict(self) -> dict[str, Any]:
        """Return the parts for JSON."""
        return {
            "start": self.start,
            "end": self.end,
            "state": self.state,
            "probability": self.probability,
        }


@dataclass(frozen=True)
class FaceMeasurement:
    """One automatic reading of one face; lengths in px unless the name says mm.

    ``needs_reader`` is empty, or says in one word group why a person must look.
    ``budget`` lists named standard uncertainties of ``unbrazed_share``; the
    part ``scale`` is that of ``overlap_mm``, relative. ``ends_found`` says which
    ends the picture itself marks plainly: ``both``, ``tube_end``, ``cup_face``
    or ``given`` for none; ``given_px`` are the ends as a person gave them.
    """

    overlap_px: float
    overlap_mm: float | None
    overlap_mm_u: float | None
    segments: tuple[Segment, ...]
    unbrazed_share: float
    u: float
    interval95: tuple[float, float]
    unsure_share: float
    needs_reader: str
    tube_end_px: Point
    cup_face_px: Point
    line: tuple[Point, ...]
    gap_px: float
    budget: Budget
    method: str
    image_sha256: str
    warnings: tuple[Message, ...] = ()
    ends_found: str = "given"
    given_px: tuple[Point, Point] | None = None

    def as_dict(self, *, message: str = "") -> dict[str, Any]:
        """Return the JSON document of a measured face.

        Parameters
        ----------
        message : str, optional
            Sentence for a reader, made by the text service.
        """
        return {
            "outcome": "measured",
            "code": "",
            "message": message,
            "overlap_px": self.overlap_px,
            "overlap_mm": self.overlap_mm,
            "segments": [s.as_dict() for s in self.segments],
            "unbrazed_share": self.unbrazed_share,
            "u": self.u,
            "interval95": list(self.interval95),
            "unsure_share": self.unsure_share,
            "needs_reader": self.needs_reader,
            "tube_end_px": list(self.tube_end_px),
            "cup_face_px": list(self.cup_face_px),
            "ends_found": self.ends_found,
            "given_px": None if self.given_px is None else [list(p) for p in self.given_px],
            "candidates": [],
            "method": self.method,
            "image_sha256": self.image_sha256,
            "budget": dict(self.budget),
        }


def unbrazed_share(unbrazed_px: float, overlap_px: float, *, length_u_px: float = 1.0) -> Measured:
    """Share of the joint overlap that holds no filler metal, on one side of one section.

    Parameters
    ----------
    unbrazed_px : float
        Summed length of the unbrazed runs along the interface, [px].
    overlap_px : float
        Length of the joint overlap along the same interface, [px].
    length_u_px : float, optional
        Standard uncertainty of each of the two lengths, [px].

    Returns
    -------
    Measured
        Share between 0 and 1, [-].

    Raises
    ------
    OverlapOutOfRange
        Unless 0 < ``overlap_px`` and 0 <= ``unbrazed_px`` <= ``overlap_px``.

    Notes
    -----
    Lengths are arc lengths along the interface, not chords. The uncertainty is
    first order and takes the two lengths as independent (JCGM 100:2008, 5.1.2).

    Examples
    --------
    A drawn section with 200 of 1000 pixels open:

    >>> result = unbrazed_share(200, 1000)
    >>> result.value, round(result.plus_minus, 5)
    (0.2, 0.00204)
    """
    if not (0 < overlap_px < float("inf") and 0 <= unbrazed_px <= overlap_px):
        raise OverlapOutOfRange(
            "lengths do not describe one joint",
            got=f"{unbrazed_px:g} px unbrazed of {overlap_px:g} px",
            expected="an overlap above 0 px, and from 0 px to all of it unbrazed",
            do="Check the traced line in the overlay picture.",
        )
    share = unbrazed_px / overlap_px
    u = length_u_px / overlap_px * float((1 + share * share) ** 0.5)
    return Measured(share, 2 * u, "-")
