"""Depth of sound filler from the mouth of one face, against walls of the tube.

HTM 02-01 Part A looks at the worst place; ASME BPVC IX and AWS B2.2 at the sum of
voids. Both numbers come from one face, and neither answers for the other. Which of
them is asked depends on the adopted editions.

A reading counts here as it does for the share. Both ends of its length are moved outwards
by 1.96 standard uncertainties of the overlap; what is then unsure stays open, and so does a
pass beside a shallower proposal that nobody accepted (house rule, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from lapwright.core.evidence import Face, MethodCheck, Reading
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import Quantity, length

from .asking import Question, Ruling
from .facevalues import K_95, counts
from .rulebook import Adopted, Rule
from .stretch import overlap_spread

RULE = "section.sound_length"


@dataclass(frozen=True)
class SoundLength:
    """Sound length from the mouth of one face: ``low`` counts what is unsure as unbrazed.

    ``proposed`` is the least that a reading shows which nobody accepted.
    """

    face: str
    low: Quantity | None = None
    high: Quantity | None = None
    tube_wall: Quantity | None = None
    proposed: Quantity | None = None


def sound_lengths(
    face: Face, tube_wall: Quantity | None, *, checks: Sequence[MethodCheck] = ()
) -> SoundLength:
    """Return the sound length of a face from the readings that count, the least of them.

    Parameters
    ----------
    face : Face
        The face with the readings whose stretch is known; those without a sound length or
        an overlap say nothing.
    tube_wall : Quantity or None
        Wall of the tube.
    checks : sequence of MethodCheck, optional
        The shop's method checks, under which a program's reading counts unaccepted.
    """
    told = [
        r for r in face.readings if not r.refused and r.overlap is not None and len(r.sound) == 3
    ]
    counted = [_ends(r) for r in told if counts(r, checks)]
    left_out = [_ends(r)[0] for r in told if not counts(r, checks)]
    proposed = min(left_out, default=None)
    if not counted:
        return SoundLength(face.id, tube_wall=tube_wall, proposed=proposed)
    low, high = min(counted, key=lambda t: t[0].base)
    return SoundLength(face.id, low, high, tube_wall, proposed)


def _ends(r: Reading) -> tuple[Quantity, Quantity]:
    """Return the least and the largest sound length of a reading, with the overlap's spread."""
    assert r.overlap is not None  # the caller kept only what has one
    spread = Fraction(K_95) * Fraction(overlap_spread(r))
    low, high = (Fraction(share) * r.overlap.base for share in r.sound[1:])
    return _mm(max(low - spread, Fraction(0))), _mm(high + spread)


def _mm(exact: Fraction) -> Quantity:
    return length("1 mm").times(exact)


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
    if sound.low is None and sound.proposed is not None:
        return ask.hold(Message("sound.proposal", face=sound.face))
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
    if sound.low >= need and sound.proposed is not None and sound.proposed < need:
        message = Message("sound.unaccepted", proposed=_shown(sound.proposed), **shown)
        return Ruling(Outcome.UNDETERMINED, message, Why.HOLD, observed=shown["low"], limit=limit)
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
