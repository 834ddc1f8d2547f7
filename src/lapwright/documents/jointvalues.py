"""What a map of a joint is made of: faces with their stretches, and the words around them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .errors import JointMapRefused
from .jointlayout import Span

JOINT_MAP_LABELS: tuple[str, ...] = (
    "jointmap.axis.mouth",
    "jointmap.axis.mouth-note",
    "jointmap.axis.stop",
    "jointmap.axis.stop-note",
    "jointmap.axis.half",
    "jointmap.axis.cut-open",
    "jointmap.axis.unknown",
    "jointmap.dial.heading",
    "jointmap.hints.heading",
    "jointmap.key.bar",
    "jointmap.key.brazed",
    "jointmap.key.joined",
    "jointmap.key.unbrazed",
    "jointmap.key.unplaced",
    "jointmap.key.unread",
    "jointmap.key.unsure",
)
STATES = ("unbrazed", "unsure")
WAYS = ("read", "unplaced", "unread")


@dataclass(frozen=True)
class Stretch:
    """A stretch of a face that is not sound: ``unbrazed`` or ``unsure``.

    ``says`` is the text beside it: its depth from the mouth, from and to.
    """

    span: Span
    state: str
    says: str


@dataclass(frozen=True)
class MapFace:
    """One face as it is drawn.

    ``angle_deg`` is None where the position round the tube was not recorded. ``way`` is
    ``read``, ``unplaced`` (lengths without places) or ``unread``; ``share`` the unbrazed
    share with the ends of its 95 % interval; ``lines`` the words beneath.
    """

    id: str
    angle_deg: float | None
    way: str
    stretches: tuple[Stretch, ...]
    share: tuple[float, float, float] | None
    lines: tuple[str, ...]

    def unbrazed(self) -> tuple[Span, ...]:
        """Return the stretches without filler, without the unsure ones."""
        return tuple(s.span for s in self.stretches if s.state == "unbrazed")


@dataclass(frozen=True)
class JointMap:
    """One joint with its own faces and the words around the drawing.

    ``notices`` stand framed above the drawing, ``hints`` as a list below it, ``notes``
    at its foot; ``description`` is the text alternative.
    """

    joint: str
    title: str
    subtitle: str
    faces: tuple[MapFace, ...]
    notices: tuple[str, ...]
    hints: tuple[str, ...]
    notes: tuple[str, ...]
    description: str


def check_map(chart: JointMap) -> None:
    """Refuse a map whose values cannot be.

    Raises
    ------
    JointMapRefused
        For a map without a face, or a value out of its bounds.
    """
    if not chart.faces:
        raise _refused(chart.joint, "no face", "at least one face")
    for face in chart.faces:
        where = f"{chart.joint}: {face.id}"
        if face.angle_deg is not None and not math.isfinite(face.angle_deg):
            raise _refused(where, f"angle {face.angle_deg}", "an angle in degrees")
        if face.way not in WAYS:
            raise _refused(where, face.way, " or ".join(WAYS))
        if face.share is not None and not all(0 <= v <= 1 for v in face.share):
            raise _refused(where, f"share {face.share}", "0 to 1")
        for stretch in face.stretches:
            _check_stretch(stretch, where)


def _check_stretch(stretch: Stretch, where: str) -> None:
    span = stretch.span
    if not 0 <= span.start <= span.end <= 1:
        raise _refused(where, f"{span.start} to {span.end}", "0 <= start <= end <= 1")
    if stretch.state not in STATES:
        raise _refused(where, stretch.state, " or ".join(STATES))


def _refused(where: str, got: str, expected: str) -> JointMapRefused:
    return JointMapRefused(
        "no map of a joint",
        got=got,
        expected=expected,
        where=where,
        do="Read the face again; nothing is drawn from this.",
    )
