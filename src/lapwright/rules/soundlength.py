"""Depth of sound filler from the mouth of one face, against walls of the tube.

HTM 02-01 Part A looks at the worst place; ASME BPVC IX and AWS B2.2 at the sum of
voids. Both numbers come from one face, and neither answers for the other. Which of
them is asked depends on the adopted editions.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from lapwright.core.evidence import Face
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .rulebook import Adopted, Rule

RULE = "section.sound_length"


@dataclass(frozen=True)
class SoundLength:
    """Sound length from the mouth of one face: ``low`` counts what is unsure as unbrazed."""

    face: str
    low: Quantity | None = None
    high: Quantity | None = None
    tube_wall: Quantity | None = None


def sound_lengths(face: Face, tube_wall: Quantity | None) -> SoundLength:
    """Return the sound length of a face from its readings, the least of them.

    Parameters
    ----------
    face : Face
        The face; readings without a sound length or an overlap say nothing.
    tube_wall : Quantity or None
        Wall of the tube.
    """
    told = [
        tuple(r.overlap.times(share) for share in r.sound[1:])
        for r in face.readings
        if r.overlap is not None and len(r.sound) == 3
    ]
    if not told:
        return SoundLength(face.id, tube_wall=tube_wall)
    low, high = min(told, key=lambda t: t[0].base)
    return SoundLength(face.id, low, high, tube_wall)


def judge_sound_length(sound: SoundLength, *, adopted: Adopted) -> Finding:
    """Judge how deep sound filler reaches from the mouth.

    Parameters
    ----------
    sound : SoundLength
        Length of the face and the wall of the tube.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(RULE, Subject("face", sound.face), adopted)
    fault = ask.lacks(**{"readings.sound": sound.low, "tube.wall": sound.tube_wall})
    return fault or ask.answer(lambda rule: _ruling(rule, sound))


def _ruling(rule: Rule, sound: SoundLength) -> Ruling:
    assert sound.low is not None
    assert sound.tube_wall is not None
    high = sound.high or sound.low
    need = sound.tube_wall.times(Decimal(rule.value))
    shown = {
        "face": sound.face,
        "low": _shown(sound.low),
        "need": _shown(need),
        "walls": rule.value,
    }
    limit = f">= {shown['need']}"
    if sound.low >= need:
        return Ruling(
            Outcome.MET, Message("sound.deep", **shown), observed=shown["low"], limit=limit
        )
    if high < need:
        return Ruling(
            Outcome.NOT_MET, Message("sound.shallow", **shown), observed=shown["low"], limit=limit
        )
    message = Message("sound.unsure", high=_shown(high), **shown)
    return Ruling(Outcome.UNDETERMINED, message, Why.HOLD, observed=shown["low"], limit=limit)


def _shown(length: Quantity) -> str:
    """Return a length to the nearest thousandth, for display only."""
    return f"{length.value.quantize(Decimal('0.001')).normalize():f} {length.unit}"
