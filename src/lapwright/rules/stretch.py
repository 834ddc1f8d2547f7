"""A reading counts when the stretch it was taken on is the joint's overlap.

Ends named inside the joint leave a void outside the sum, and an overlap typed
too long makes the same void a smaller share. So the overlap of each reading is
compared with the joint's measured one, within twice their joined standard
uncertainties (JCGM 100, 5.1.2 and 6.2.1): scale and ends of a photograph, the
smallest step of loupe and calliper, and a tube end that is not cut square. A
photograph without a scale tells no length, so its reading waits for one, also
where the program found both ends for itself: they may be those of another joint.
However loose a scale is said to be, it explains no more than 1 % here. A reading that
passes and yet is shorter than the joint by more than 1 % may have left unbrazed
overlap out: the upper end of its share is raised by all that is missing.
House rule; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from math import hypot, sqrt

from lapwright.core.errors import QuantityRefused
from lapwright.core.evidence import Evidence, Face, Joint, Reading
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity, length

from .asking import Question, Ruling
from .faces import FaceResult
from .facevalues import upper
from .plausible import RULE
from .rulebook import Adopted

SQUARE_MM = 0.1  # standard uncertainty of one face's overlap from a tube end off square
SCALE = 0.01  # relative standard uncertainty that a scale explains at most, or that states none
MISSING = Fraction(1, 100)  # of the joint's overlap: a shorter reading may hide what is unbrazed
AT_MOST = 0.05  # of the joint's overlap: a scale or step so coarse tells nothing more


@dataclass(frozen=True)
class Stretches:
    """The readings of one face whose stretch is the joint's overlap, and what was found."""

    known: tuple[Reading, ...]
    findings: tuple[Finding, ...]

    def applied(self, result: FaceResult) -> FaceResult:
        """Keep a face open while the stretch of one of its readings is not known.

        Parameters
        ----------
        result : FaceResult
            The judgement of the face on the ``known`` readings alone.
        """
        doubts = [f for f in self.findings if f.outcome is Outcome.UNDETERMINED]
        if not doubts or result.finding.before_confirmation is Outcome.NOT_MET:
            return result
        return replace(result, finding=doubts[0], due="")


def judge_stretches(evidence: Evidence, joint: Joint, face: Face, *, adopted: Adopted) -> Stretches:
    """Compare the stretch of every reading of a face with its joint's overlap.

    Parameters
    ----------
    evidence : Evidence
        The case, whose instruments state their resolution.
    joint : Joint
        The joint with its measured overlap.
    face : Face
        The face with its readings.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    if not adopted.has(RULE):
        return Stretches(face.readings, ())
    ask = Question(RULE, Subject("face", face.id), adopted)
    known: list[Reading] = []
    found: list[Finding] = []
    for reading in face.readings:
        doubts = [
            *_resolution(ask, evidence, reading),
            *(_stretch(ask, evidence, joint, reading) if reading.share is not None else ()),
        ]
        found += doubts
        if all(f.outcome is Outcome.MET for f in doubts):
            known.append(_raised(reading, joint))
    return Stretches(tuple(known), tuple(found))


def _resolution(ask: Question, evidence: Evidence, reading: Reading) -> Iterator[Finding]:
    """Compare a loupe reading's resolution with that filed of its instrument."""
    if reading.way != "loupe" or reading.instrument not in evidence.instruments:
        return  # an instrument nobody named is asked for with the coupon
    filed = _step(evidence, reading.instrument)
    if filed is None:
        named = replace(ask, subject=Subject("instrument", reading.instrument))
        typed = evidence.instruments[reading.instrument].resolution
        fault = named.unclear("instruments.resolution", typed, ("a length, such as 0.1 mm",))
        yield fault or named.missing("instruments.resolution")
        return
    shown = {"face": ask.subject.id, "instrument": reading.instrument, "filed": filed.text}
    if reading.resolution is not None and reading.resolution < filed:
        yield ask.hold(Message("stretch.too_fine", typed=reading.resolution.text, **shown))
    elif reading.resolution_typed:
        message = Message("stretch.coarser", typed=reading.resolution_typed, **shown)
        yield ask.answer(lambda _: Ruling(Outcome.MET, message))


def _stretch(
    ask: Question, evidence: Evidence, joint: Joint, reading: Reading
) -> Iterator[Finding]:
    """Compare one reading's overlap with the joint's."""
    face = ask.subject.id
    if reading.overlap is None:
        yield ask.needs(Message("stretch.no_scale", face=face))
        return
    if joint.overlap is None:
        yield replace(ask, subject=Subject("joint", joint.id)).missing("overlap")
        return
    apart = abs(float(reading.overlap.base - joint.overlap.base))
    allowed = _allowed(evidence, joint, joint.overlap, reading)
    shown = {
        "face": face,
        "got": reading.overlap.text,
        "joint": joint.id,
        "overlap": joint.overlap.text,
        "apart": f"{apart:.2f}",
        "allowed": f"{allowed:.2f}",
    }
    if apart > allowed:
        yield ask.hold(Message("stretch.apart", **shown), observed=reading.overlap.text)
        return
    message = Message("stretch.whole", **shown)
    missing = _missing(reading, joint)
    if missing > MISSING:
        message = Message("stretch.short", missing=f"{float(missing) * 100:.1f}", **shown)
    yield ask.answer(lambda _: Ruling(Outcome.MET, message))


def _missing(reading: Reading, joint: Joint) -> Fraction:
    """Return by how much a reading is shorter than the joint, as a share of its overlap."""
    if reading.overlap is None or joint.overlap is None:
        return Fraction(0)
    return (joint.overlap.base - reading.overlap.base) / joint.overlap.base


def _raised(reading: Reading, joint: Joint) -> Reading:
    """Count what a reading is missing as unbrazed, in the upper end of its interval.

    A share s of the stretch read and all of the missing share d are s (1 - d) + d <= s + d.
    """
    missing = _missing(reading, joint)
    if missing <= MISSING or reading.share is None or reading.u is None:
        return reading
    added = Decimal(missing.numerator) / Decimal(missing.denominator)
    return replace(reading, high=upper(reading) + added)


def _allowed(evidence: Evidence, joint: Joint, overlap: Quantity, reading: Reading) -> float:
    """Return how far two measured overlaps may lie apart, [mm]; k = 2."""
    step = _step(evidence, joint.overlap_instrument)
    u = hypot(SQUARE_MM, _two_edges(step), _reading_u(reading))
    return min(2 * u, AT_MOST * float(overlap.base))


def overlap_spread(reading: Reading) -> float:
    """Return the standard uncertainty of a reading's overlap, as it is filed, [mm].

    Parameters
    ----------
    reading : Reading
        A reading with its overlap.
    """
    if reading.overlap_u is not None:
        return float(reading.overlap_u.base)
    if reading.way == "loupe" or reading.overlap is None:
        return _two_edges(reading.resolution)
    return SCALE * float(reading.overlap.base)


def _reading_u(reading: Reading) -> float:
    """Return the same with no more than 1 % for the scale; without its parts, 1 % of it all."""
    spread = overlap_spread(reading)
    if reading.overlap is None or reading.way == "loupe":
        return spread
    overlap = float(reading.overlap.base)
    if reading.scale_u is None:
        return min(spread, SCALE * overlap)
    scale = float(reading.scale_u) * overlap
    others = sqrt(max(spread**2 - scale**2, 0.0))
    return hypot(others, min(scale, SCALE * overlap))


def _two_edges(step: Quantity | None) -> float:
    """Return the standard uncertainty of a length between two edges, [mm] (JCGM 100, 4.3.7)."""
    return sqrt(2) * float(step.base) / 2 / sqrt(3) if step is not None else 0.0


def _step(evidence: Evidence, instrument: str) -> Quantity | None:
    """Return an instrument's resolution where it is filed as a length."""
    filed = evidence.instruments.get(instrument)
    try:
        return length(filed.resolution) if filed is not None else None
    except QuantityRefused:
        return None
