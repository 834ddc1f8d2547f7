"""Patterns that a joint's faces show, with what the trade usually blames for them.

Hints for teaching: every cause is common practice without a source, and no rule reads
them. The thresholds below are choices of this tool, made so that a hint speaks of what
an eye would see on the map; nobody has measured how often a hint is right. Unread faces
and lengths without places take no part.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from lapwright.core.messages import Message
from lapwright.documents.jointlayout import Span, widest_gap
from lapwright.documents.jointvalues import MapFace

END = 0.05  # nearer to mouth or tube end than this share of the overlap counts as reaching it
LEAST = 0.03  # shorter unbrazed stretches make no pattern at an end or in a band
BRIDGE = 0.02  # sound pieces shorter than this do not close a path from mouth to tube end
SHORT = 0.05  # a gap of at most this share is a pore
PORES = 3  # so many on one face are scattered pores
BARE = 0.80  # so large an unbrazed share on every face is hardly any filler at all
SIDE = 0.10  # the worst face of a one-sided joint holds at least this share
SIDE_RATIO = 3.0  # and so many times the share of the faces on the other side
HALF_TURN_DEG = 180.0
NO_CAUSE = ("jointmap.cause.none", "jointmap.cause.sound")  # sentences that blame nothing


def patterns(faces: Sequence[MapFace]) -> tuple[Message, ...]:
    """Return the patterns that the faces of one joint show, as sentences to be said.

    Parameters
    ----------
    faces : sequence of MapFace
        The faces of one joint; those that were not read are passed over.

    Returns
    -------
    tuple of Message
        Empty when no face was read; a sentence that nothing shows when nothing does.
    """
    placed = [f for f in faces if f.way == "read"]
    shares = [f for f in faces if f.share is not None]
    found = (*_by_place(placed, str(len(faces))), *_one_sided(shares))
    if found or not placed:
        return found
    if any(f.stretches for f in placed):
        return (Message("jointmap.cause.none"),)
    return (Message("jointmap.cause.sound"),)


def _by_place(faces: Sequence[MapFace], of: str) -> Iterator[Message]:
    """Yield the patterns of faces with places; ``of`` is the number of all the joint's faces."""
    yield from _through(faces)
    yield from _bare(faces, of)
    yield from _stop(faces, of)
    yield from _mouth(faces)
    yield from _band(faces, of)
    yield from _scattered(faces)


def _through(faces: Sequence[MapFace]) -> Iterator[Message]:
    """Yield the faces that hold no filler from mouth to tube end, with and without the unsure."""
    surely = [f for f in faces if _spans_all(f.unbrazed())]
    perhaps = [f for f in faces if f not in surely and f.unbrazed() and _spans_all(_all_spans(f))]
    if surely:
        yield Message("jointmap.cause.through", faces=_names(surely))
    if perhaps:
        yield Message("jointmap.cause.through_unsure", faces=_names(perhaps))


def _bare(faces: Sequence[MapFace], of: str) -> Iterator[Message]:
    if faces and all(_unbrazed_share(f) >= BARE for f in faces):
        count = str(len(faces))
        yield Message("jointmap.cause.bare", faces=_names(faces), count=count, of=of)


def _stop(faces: Sequence[MapFace], of: str) -> Iterator[Message]:
    reach = [f for f in faces if any(s.end >= 1 - END for s in _long(f))]
    if faces and len(reach) == len(faces) and not all(_spans_all(f.unbrazed()) for f in faces):
        count = str(len(faces))
        yield Message("jointmap.cause.stop", faces=_names(faces), count=count, of=of)


def _mouth(faces: Sequence[MapFace]) -> Iterator[Message]:
    reach = [
        f for f in faces if any(s.start <= END for s in _long(f)) and not _spans_all(f.unbrazed())
    ]
    if reach:
        yield Message("jointmap.cause.mouth", faces=_names(reach))


def _band(faces: Sequence[MapFace], of: str) -> Iterator[Message]:
    """Yield a gap at one depth on every face, away from both ends."""
    if len(faces) < 2:
        return
    common = [Span(END, 1 - END)]
    for face in faces:
        inner = [s for s in _long(face) if s.start > END and s.end < 1 - END]
        common = [
            Span(max(a.start, b.start), min(a.end, b.end))
            for a in common
            for b in inner
            if min(a.end, b.end) > max(a.start, b.start)
        ]
    if common:
        count = str(len(faces))
        yield Message("jointmap.cause.band", faces=_names(faces), count=count, of=of)


def _scattered(faces: Sequence[MapFace]) -> Iterator[Message]:
    pored = [f for f in faces if sum(1 for s in _all_spans(f) if s.length <= SHORT) >= PORES]
    if pored:
        yield Message("jointmap.cause.scattered", faces=_names(pored))


def _one_sided(faces: Sequence[MapFace]) -> Iterator[Message]:
    """Yield one side of the tube against the other, or two faces of which nobody knows the side."""
    shares = {f.id: f.share[0] for f in faces if f.share is not None}
    top = max(shares.values(), default=0.0)
    high = [f for f in faces if shares[f.id] >= top / 2]
    low = [f for f in faces if shares[f.id] < top / 2]
    if top < SIDE or not low or max(shares[f.id] for f in low) * SIDE_RATIO > top:
        return
    named = {"high": _names(high), "low": _names(low)}
    angles = [f.angle_deg for f in high if f.angle_deg is not None]
    if all(f.angle_deg is not None for f in faces):
        if 360 - widest_gap(angles) < HALF_TURN_DEG:
            yield Message("jointmap.cause.one_sided", **named)
    elif len(faces) == 2:
        yield Message("jointmap.cause.uneven", **named)


def _unbrazed_share(face: MapFace) -> float:
    return sum(s.length for s in face.unbrazed())


def _all_spans(face: MapFace) -> tuple[Span, ...]:
    return tuple(s.span for s in face.stretches)


def _long(face: MapFace) -> list[Span]:
    return [s for s in face.unbrazed() if s.length >= LEAST]


def _spans_all(spans: Sequence[Span]) -> str:
    """Return ``yes`` when the spans leave no sound piece longer than the bridge, else nothing."""
    reached = 0.0
    for span in sorted(spans, key=lambda s: s.start):
        if span.start > reached + BRIDGE:
            return ""
        reached = max(reached, span.end)
    return "yes" if reached >= 1 - BRIDGE else ""


def _names(faces: Sequence[MapFace]) -> str:
    return ", ".join(f.id for f in faces)
