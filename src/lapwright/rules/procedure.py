"""The procedure side: overlap window, unequal walls, and what NFPA 99 adds.

A lap or socket joint lies in a window of two rules (ASME BPVC IX 2015):
no shorter than the procedure's coupon (QB-408.4) and at most 25 % longer than
the brazer's coupon (QB-408.1). Each wall of an unequal joint lies in the range
of its own coupon wall (QB-200.4). NFPA 99 names the base standards, the form
of the brazer's test, and what procedure and record must document.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .errors import RuleUnknown
from .ranges import overlap_ceiling
from .rulebook import Adopted, Rule
from .rulings import held, met, needed, not_met
from .thickness import WallRange, range_of_wall


@dataclass(frozen=True)
class OverlapWindow:
    """Shortest overlap of the procedure and longest of the brazer, both included."""

    floor: Quantity
    ceiling: Quantity


def overlap_window(
    pqr_overlaps: Sequence[Quantity], bpq_overlap: Quantity, *, adopted: Adopted
) -> OverlapWindow:
    """Return the overlaps that procedure and brazer allow together.

    With several procedure records the shortest overlap is the floor. The
    window is empty when the floor lies above the ceiling.

    Parameters
    ----------
    pqr_overlaps : sequence of Quantity
        Overlaps of the procedure coupons, at least one.
    bpq_overlap : Quantity
        Overlap of the brazer's coupon.
    adopted : Adopted
        The adopted editions.

    Raises
    ------
    RuleUnknown
        If no adopted edition states the increase in known words.
    """
    ceilings = [
        overlap_ceiling(bpq_overlap, rule)
        for rule in adopted.all("overlap.max_increase")
        if rule.value is not None
    ]
    if not ceilings:
        names = ", ".join(f"{e.code} {e.edition}" for e in adopted.editions)
        raise RuleUnknown(
            "no adopted edition states the increase in known words",
            got="overlap.max_increase",
            expected=f"a figure in {names}",
            do="Adopt an edition that states it.",
        )
    return OverlapWindow(min(pqr_overlaps), min(ceilings))


def judge_unequal_walls(
    subject: Subject,
    coupon: tuple[Quantity | None, Quantity | None],
    joint: tuple[Quantity | None, Quantity | None],
    *,
    adopted: Adopted,
) -> Finding:
    """Judge a procedure on a joint of two walls: each in the range of its own coupon wall.

    A procedure qualified on equal walls has one range for both members.

    Parameters
    ----------
    subject : Subject
        The joint.
    coupon, joint : pair of Quantity or None
        Walls of tube and fitting of the procedure coupon and of the joint.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("thickness.unequal_members", subject, adopted, also=("thickness.bands",))
    names = ("tube wall", "fitting wall")
    bands = next((r for r in adopted.all("thickness.bands") if r.value is not None), None)
    if bands is None:
        return ask.no_text()
    pairs = [
        (name, wall, range_of_wall(own, bands))
        for name, own, wall in zip(names, coupon, joint, strict=True)
        if own and wall
    ]
    keys = ("pqr.tube_wall", "pqr.fitting_wall", "tube.wall", "range_tables.fitting_walls")
    lacking = [key for key, wall in zip(keys, (*coupon, *joint), strict=True) if wall is None]
    if lacking and all(span.holds(wall) is Outcome.MET for _, wall, span in pairs):
        return ask.needs(Message("walls.needs", field=", ".join(lacking)))
    return ask.answer(lambda _: _walls(pairs))


def _walls(pairs: Sequence[tuple[str, Quantity, WallRange]]) -> Ruling:
    shown = "; ".join(
        f"{name} {wall.text} in {span.low.text} to {span.high.text}" for name, wall, span in pairs
    )
    outside = [name for name, wall, span in pairs if span.holds(wall) is not Outcome.MET]
    if outside:
        return not_met("walls.outside", outside=", ".join(outside), walls=shown, saw=shown)
    return met("walls.inside", walls=shown, saw=shown)


def judge_flux(procedure: str, *, qualified: str, used: str, adopted: Adopted) -> Finding:
    """Judge a procedure on the flux of a joint: added, left out or changed needs a new record.

    Parameters
    ----------
    procedure : str
        Id of the procedure.
    qualified, used : str
        Flux of the procedure coupon and of the joint; ``none`` without flux.
    adopted : Adopted
        The adopted editions (ASME BPVC IX, QB-406.1).
    """
    ask = Question("procedure.flux", Subject("procedure", procedure), adopted)
    shown = {"qualified": qualified, "used": used}
    return ask.lacks(**{"pqr.flux": qualified, "brazed.flux": used}) or ask.answer(
        lambda _: (
            met("flux.same", saw=used, bound=qualified, **shown)
            if qualified == used
            else not_met("flux.changed", saw=used, bound=qualified, **shown)
        )
    )


def judge_base_standard(record: str, standard: str, *, adopted: Adopted) -> Finding:
    """Judge whether a record was made under a standard that the medical-gas code accepts.

    Parameters
    ----------
    record : str
        Id of the record.
    standard : str
        Code id of the standard it was made under, for example ``asme-bpvc-ix``.
    adopted : Adopted
        The adopted editions. Another standard is held for the authority.
    """
    ask = Question("base.standards", Subject("record", record), adopted)
    return ask.lacks(standard=standard) or ask.answer(
        lambda rule: (
            met("base.accepted", standard=standard)
            if standard in rule.value
            else held("base.other", standard=standard, accepted=", ".join(rule.value), saw=standard)
        )
    )


def judge_topics(
    rule_id: str, subject: Subject, filled: Mapping[str, str], *, adopted: Adopted
) -> Finding:
    """Judge whether a procedure or record treats every topic of the medical-gas code.

    A topic without text makes the paper incomplete, which is not met; only the
    statement on internal oxidation, a result of the examination, needs data
    when it is blank.

    Parameters
    ----------
    rule_id : str
        ``bps.topics`` or ``record.topics``.
    subject : Subject
        The procedure or the record.
    filled : mapping of str to str
        Topic to text.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(rule_id, subject, adopted)
    return ask.answer(lambda rule: _topics(rule, filled))


def _topics(rule: Rule, filled: Mapping[str, str]) -> Ruling:
    blank = [topic for topic in rule.value if not filled.get(topic)]
    results = [topic for topic in blank if topic == "no-internal-oxidation"]
    silent = [topic for topic in blank if topic not in results]
    if silent:
        return not_met("topics.lacking", paper=rule.title, topics=", ".join(silent))
    if results:
        return needed("topics.oxidation", paper=rule.title)
    return met("topics.complete", paper=rule.title)


def stands_for_medical_work(
    record: str, base: Finding, paper: Finding, *, adopted: Adopted
) -> Finding:
    """Say whether a record that passed its base standard serves medical-gas work.

    An incomplete paper does not undo the test: medical work is held until the
    paper is complete.

    Parameters
    ----------
    record : str
        Id of the record.
    base : Finding
        Answer of the base standard.
    paper : Finding
        Answer of `judge_topics` for ``record.topics``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("record.topics", Subject("record", record), adopted)
    if base.before_confirmation is not Outcome.MET:
        return base
    if paper.before_confirmation is Outcome.MET:
        return ask.answer(lambda _: met("medical.serves", record=record))
    return ask.hold(Message("medical.held", record=record))
