"""One picture answers for one face, and nobody examines their own braze.

Common practice, no source: a photograph whose ends lie on one and the same
stretch cannot show two faces (a half-section shows two joints, but on two
stretches). A copy of the file with other bytes is the same photograph when its
pixels are the same. The person who brazed a coupon neither looks at it for the record
nor reads its faces.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from lapwright.core.evidence import Evidence, Face, Joint, Reading
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject

from .asking import Question, Ruling
from .rulebook import Adopted

NEAR = Decimal("0.2")  # of the distance between the ends; two joints lie farther apart


def judge_pictures(evidence: Evidence, face: Face, *, adopted: Adopted) -> Finding | None:
    """Judge whether a face's photographs show this face alone.

    Parameters
    ----------
    evidence : Evidence
        The case, whose other faces are compared.
    face : Face
        The face.
    adopted : Adopted
        The adopted editions with the programme's rules.

    Returns
    -------
    Finding or None
        ``None`` when the face has no photograph or no edition asks.
    """
    own = [r for r in face.readings if r.photo_sha256]
    if not own or not adopted.has("picture.one_face"):
        return None
    ask = Question("picture.one_face", Subject("face", face.id), adopted)
    shared = [
        other.id
        for other in evidence.faces
        if other.id != face.id and any(same_stretch(a, b) for a in own for b in other.readings)
    ]
    if shared:
        return ask.hold(Message("picture.shared", face=face.id, others=", ".join(shared)))
    return ask.answer(lambda _: Ruling(Outcome.MET, Message("picture.own", face=face.id)))


def judge_own_examination(
    evidence: Evidence, joint: Joint, brazed_by: str, *, adopted: Adopted
) -> Iterator[Finding]:
    """Yield a finding where the brazer examined the own joint or read its faces.

    Parameters
    ----------
    evidence : Evidence
        The case.
    joint : Joint
        The joint.
    brazed_by : str
        Who brazed its coupon.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    if not adopted.has("examiner.not_the_brazer"):
        return
    own = {brazed_by, evidence.brazer}
    looked = [e.by for e in joint.examinations]
    readings = [r for f in joint.faces for r in f.readings]
    read = [p for r in readings for p in (r.accepted_by or r.reader, r.ends_accepted_by)]
    ask = Question("examiner.not_the_brazer", Subject("joint", joint.id), adopted)
    if own & {*looked, *read} - {""}:
        yield ask.hold(Message("examiner.own_work", joint=joint.id))
    else:
        yield ask.answer(lambda _: Ruling(Outcome.MET, Message("examiner.other", joint=joint.id)))


def same_stretch(one: Reading, two: Reading) -> object:
    """Return whether two readings rest on one stretch of one photograph.

    Parameters
    ----------
    one, two : Reading
        The readings; one without ends cannot be told apart from another.
    """
    if not _same_picture(one, two):
        return False
    if not one.ends or not two.ends:
        return True  # nobody said where: it cannot be told apart
    length = _apart(one.ends[:2], one.ends[2:])
    return all(
        _apart(a, b) <= NEAR * length
        for a, b in ((one.ends[:2], two.ends[:2]), (one.ends[2:], two.ends[2:]))
    ) or all(
        _apart(a, b) <= NEAR * length
        for a, b in ((one.ends[:2], two.ends[2:]), (one.ends[2:], two.ends[:2]))
    )


def _same_picture(one: Reading, two: Reading) -> bool:
    """Whether two readings name one file, or files that decode to the same pixels."""
    return any(
        a != "" and a == b
        for a, b in (
            (one.photo_sha256, two.photo_sha256),
            (one.pixels_sha256, two.pixels_sha256),
        )
    )


def _apart(one: tuple[Decimal, ...], two: tuple[Decimal, ...]) -> Decimal:
    return ((one[0] - two[0]) ** 2 + (one[1] - two[1]) ** 2).sqrt()
