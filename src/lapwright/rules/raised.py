"""What the program raises on a picture: held until a person has said what it is.

The program may only raise a matter (a wall that looks thin, a line that may be a
crack). It is held, once for every picture, until somebody who looked has
answered; the answer decides. Where the program saw nothing, nothing follows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from lapwright.core.evidence import Face, Reading, Texts
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding

from .asking import Question


def judge_raised(
    face: Face,
    ask: Question,
    *,
    marks: Callable[[Reading], Sequence[Texts]],
    shown: Callable[[Texts], str],
    look: str,
    said: Callable[[Sequence[Reading]], Finding | None] = lambda _: None,
) -> Iterator[Finding]:
    """Yield one finding for every picture on which the program raised something.

    Parameters
    ----------
    face : Face
        The face with its readings; readings of the same pixels are one picture.
    ask : Question
        The rule that what is raised belongs to.
    marks : callable
        What a reading raises, mostly nothing.
    shown : callable
        One mark as text, with its place.
    look : str
        Message that asks a person to look; it has ``face`` and ``at``.
    said : callable, optional
        The answer that the readings of a picture give, None while nobody has said.
    """
    pictures: dict[str, list[Reading]] = {}
    for reading in face.readings:
        if marks(reading):
            pictures.setdefault(reading.pixels_sha256 or reading.act, []).append(reading)
    for readings in pictures.values():
        at = "; ".join(shown(mark) for mark in marks(readings[0]))
        yield said(readings) or ask.hold(Message(look, face=face.id, at=at), observed=at)
