"""What a face shows beside the share, as values for JSON; states are words, never a verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lapwright.measure.values import Point

from .sound import SoundLength

SEEN, NOTHING, UNMEASURED = "seen", "nothing-seen", "not-measured"


@dataclass(frozen=True)
class MouthFillet:
    """The fillet beyond the cup face; ``along_px`` is its leg on the tube, ``up_px`` on the cup.

    ``u_px`` is the standard uncertainty of each leg; ``reason`` says why nothing was measured.
    """

    state: str
    reason: str = ""
    along_px: float = 0.0
    up_px: float = 0.0
    u_px: float = 0.0

    def as_dict(self, px_per_mm: float | None = None) -> dict[str, Any]:
        """Return the parts for JSON, in mm too where the scale is known.

        Parameters
        ----------
        px_per_mm : float, optional
            Scale of the picture.
        """
        found: dict[str, Any] = {"state": self.state, "reason": self.reason}
        for name, value in (("along", self.along_px), ("up", self.up_px), ("u", self.u_px)):
            found[f"{name}_px"] = value if self.state == SEEN else None
            found[f"{name}_mm"] = _mm(value, px_per_mm) if self.state == SEEN else None
        return found


@dataclass(frozen=True)
class Spot:
    """Something that stands where nothing should: middle (x, y), length along the joint, height.

    ``looks`` is ``as-copper`` (it may be a burr) or ``other``.
    """

    place_px: Point
    length_px: float
    height_px: float
    looks: str


@dataclass(frozen=True)
class ExtraFill:
    """Filler out of place: behind the tube end, or on the tube's inner wall."""

    state: str
    reason: str = ""
    spots: tuple[Spot, ...] = ()

    def as_dict(self, px_per_mm: float | None = None) -> dict[str, Any]:
        """Return the parts for JSON, in mm too where the scale is known.

        Parameters
        ----------
        px_per_mm : float, optional
            Scale of the picture.
        """
        return {
            "state": self.state,
            "reason": self.reason,
            "spots": [
                {
                    "place_px": list(s.place_px),
                    "length_px": s.length_px,
                    "height_px": s.height_px,
                    "length_mm": _mm(s.length_px, px_per_mm),
                    "height_mm": _mm(s.height_px, px_per_mm),
                    "looks": s.looks,
                }
                for s in self.spots
            ],
        }


@dataclass(frozen=True)
class CrackLine:
    """A dark thin line at the joint: its two ends, ``at`` as a share from the tube end.

    ``side`` is ``cup``, ``tube`` or ``unknown``; ``darkness`` is the light it takes, [-].
    """

    start_px: Point
    end_px: Point
    length_px: float
    at: float
    side: str
    darkness: float


@dataclass(frozen=True)
class CrackLines:
    """Crack-like lines at the joint; ``left_out`` counts those taken for scratches."""

    state: str
    reason: str = ""
    found: tuple[CrackLine, ...] = ()
    left_out: int = 0

    def as_dict(self, px_per_mm: float | None = None) -> dict[str, Any]:
        """Return the parts for JSON, in mm too where the scale is known.

        Parameters
        ----------
        px_per_mm : float, optional
            Scale of the picture.
        """
        return {
            "state": self.state,
            "reason": self.reason,
            "left_out": self.left_out,
            "found": [
                {
                    "start_px": list(c.start_px),
                    "end_px": list(c.end_px),
                    "length_px": c.length_px,
                    "length_mm": _mm(c.length_px, px_per_mm),
                    "at": c.at,
                    "side": c.side,
                    "darkness": c.darkness,
                }
                for c in self.found
            ],
        }


@dataclass(frozen=True)
class Besides:
    """Everything of one face beside its share; ``overlap_mm`` is None without a scale."""

    sound: SoundLength
    fillet: MouthFillet
    behind: ExtraFill
    bore: ExtraFill
    lines: CrackLines
    overlap_px: float
    overlap_mm: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """Return the parts for JSON."""
        scale = None if self.overlap_mm is None else self.overlap_px / self.overlap_mm
        return {
            "sound": self.sound.as_dict(overlap_px=self.overlap_px, overlap_mm=self.overlap_mm),
            "fillet": self.fillet.as_dict(scale),
            "behind_tube_end": self.behind.as_dict(scale),
            "bore": self.bore.as_dict(scale),
            "crack_like_lines": self.lines.as_dict(scale),
        }


def _mm(px: float, px_per_mm: float | None) -> float | None:
    return None if px_per_mm is None else px / px_per_mm
