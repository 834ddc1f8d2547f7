"""Crack-like lines that the program saw on a face: held until a person has said what they are.

The program flags and never judges: scratches can look like cracks. Where it saw
nothing, nothing follows. The rule asked is the adopted one on cracks (ASME BPVC IX,
QB-181 and QB-182; AWS B2.2, 4.2.5).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from lapwright.core.evidence import Face, Texts
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject

from .asking import Question, Ruling
from .preparation import Crack, judge_crack
from .raised import Matter, Picture, judge_raised
from .rulebook import Adopted

DECISIONS = ("crack", "scratch", "other")


def judge_dark_lines(face: Face, *, adopted: Adopted) -> Iterator[Finding]:
    """Judge the crack-like lines of a face's readings, one finding a picture.

    Parameters
    ----------
    face : Face
        The face with its readings; one whose crack is stated already is judged by that.
    adopted : Adopted
        The adopted editions.
    """
    if face.crack == "yes":
        return
    ask = Question("section.crack", Subject("face", face.id), adopted)
    matter = Matter(lambda r: r.dark_lines, _start, "crack.look", lambda r: r.dark_line)
    yield from judge_raised(face, ask, matter, said=lambda picture: _said(ask, face, picture))


def _start(line: Texts) -> str:
    return line["start"]


def _said(ask: Question, face: Face, picture: Picture) -> Finding | None:
    """Judge the lines of one picture by what its readers say; a crack goes first."""
    said = sorted(
        (r for r in picture.readings if r.dark_line), key=lambda r: r.dark_line != "crack"
    )
    for told in said:
        fault = ask.unclear("dark_line", told.dark_line, DECISIONS) or ask.lacks(
            dark_line_reason=told.dark_line_reason
        )
        if fault is not None:
            return fault
        if told.dark_line == "crack":
            return judge_crack(Crack(face.id, "yes", face.crack_length), adopted=ask.adopted)
    if picture.waiting:
        return None
    places = _joined(_start(line) for line in picture.marks)
    what, why = _joined(r.dark_line for r in said), _joined(r.dark_line_reason for r in said)
    message = Message("crack.line_is", face=face.id, at=places, what=what, reason=why)
    return ask.answer(lambda _: Ruling(Outcome.MET, message, observed=what))


def _joined(texts: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(texts))
