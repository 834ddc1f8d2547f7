"""What the program raises on a picture: held until a person has said what it is.

The program may only raise a matter (a wall that looks thin, a line that may be a
crack). It is held, once for every picture, until somebody who looked has
answered; the answer decides. Where the program saw nothing, nothing follows. Two
readings of one picture may show different marks: an answer holds for those that its
own reading shows, and each mark needs one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from lapwright.core.evidence import Face, Reading, Texts
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding

from .asking import Question


@dataclass(frozen=True)
class Matter:
    """Something that the program raises: ``marks`` gives a reading's, mostly none.

    ``shown`` is one mark as text with its place, ``look`` the message that asks a person to
    look (with ``face`` and ``at``), ``answers`` whether a reading says what its own marks are.
    """

    marks: Callable[[Reading], Sequence[Texts]]
    shown: Callable[[Texts], str]
    look: str
    answers: Callable[[Reading], object] = lambda _: False


@dataclass(frozen=True)
class Picture:
    """The readings of the same pixels, every mark that one of them shows, those not answered."""

    readings: tuple[Reading, ...]
    marks: tuple[Texts, ...]
    waiting: tuple[Texts, ...]


def judge_raised(
    face: Face,
    ask: Question,
    matter: Matter,
    *,
    said: Callable[[Picture], Finding | None] = lambda _: None,
) -> Iterator[Finding]:
    """Yield one finding for every picture on which the program raised something.

    Parameters
    ----------
    face : Face
        The face with its readings; readings of the same pixels are one picture.
    ask : Question
        The rule that what is raised belongs to.
    matter : Matter
        What is raised.
    said : callable, optional
        The answer that the readings of a picture give, None while a mark waits for one.
    """
    pictures: dict[str, list[Reading]] = {}
    for reading in face.readings:
        if matter.marks(reading):
            pictures.setdefault(reading.pixels_sha256 or reading.act, []).append(reading)
    for readings in pictures.values():
        picture = _picture(matter, readings)
        at = "; ".join(dict.fromkeys(matter.shown(mark) for mark in picture.waiting))
        hold = ask.hold(Message(matter.look, face=face.id, at=at), observed=at)
        yield said(picture) or hold


def _picture(matter: Matter, readings: Sequence[Reading]) -> Picture:
    every = _each(matter, readings)
    answered = _each(matter, [r for r in readings if matter.answers(r)])
    return Picture(tuple(readings), every, tuple(m for m in every if m not in answered))


def _each(matter: Matter, readings: Sequence[Reading]) -> tuple[Texts, ...]:
    """Return the marks of several readings, each once."""
    found: list[Texts] = []
    for reading in readings:
        found += [mark for mark in matter.marks(reading) if mark not in found]
    return tuple(found)
