"""Walls of a face: what the program raises, and what a person saw there.

Any erosion of base metal is not met (house rule). The program may only raise
it: a wall that looks eaten out holds the face until a person has looked, and a wall at
which nothing was seen changes nothing. What the person saw decides.
"""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.core.evidence import Face, Texts
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject

from .asking import Question, Ruling
from .raised import Matter, judge_raised
from .rulebook import Adopted

RULE = "erosion.any"


def judge_face_walls(face: Face, *, adopted: Adopted) -> Iterator[Finding]:
    """Yield what is to be said of the walls on one face, mostly nothing.

    Parameters
    ----------
    face : Face
        The face with its readings; ``erosion`` is a person's word.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question(RULE, Subject("face", face.id), adopted)
    if face.erosion:
        yield _by_person(ask, face)
        return
    yield from judge_raised(face, ask, Matter(lambda r: r.walls, _shown, "erosion.look"))


def _shown(wall: Texts) -> str:
    member, at, depth, least = (wall.get(k, "-") for k in ("member", "at", "depth", "least"))
    return f"{member} {at} ({depth}, > {least})"


def _by_person(ask: Question, face: Face) -> Finding:
    seen = face.erosion == "yes"
    told = Message("erosion.face" if seen else "erosion.face_none", face=face.id)
    outcome = Outcome.NOT_MET if seen else Outcome.MET
    return ask.answer(lambda _: Ruling(outcome, told, observed=face.erosion))
