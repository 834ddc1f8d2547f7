"""Judge one coupon: who oversaw it, how it was cleaned and purged, what it is made of.

Only joins what the other modules decide, as `joint_judging` does for joints.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from lapwright.core.bodies import day_or_none
from lapwright.core.citations import Citation
from lapwright.core.evidence import Coupon, Evidence, Member
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, combine
from lapwright.core.quantities import Quantity
from lapwright.core.times import parse_instant
from lapwright.reference.fillers import filler
from lapwright.reference.metals import p_number
from lapwright.reference.tube import tube

from . import responsibility
from .asking import Question, Ruling
from .cleaning import CleaningLog
from .cups import ChangedCup, judge_changed_cup
from .doubted import InstrumentUse, judge_doubted
from .joint_judging import judge_coupon_cups, judge_coupon_faces
from .materials import FillerUse, judge_filler
from .mechanical import ChosenTest, judge_test_form
from .rulebook import Adopted
from .session import PurgeLog, judge_session
from .specimens import CouponMetal, judge_coupon_metal


def judge_coupon(evidence: Evidence, coupon: Coupon, *, adopted: Adopted) -> Verdict:
    """Judge everything that concerns a coupon as a whole.

    Parameters
    ----------
    evidence : Evidence
        The case.
    coupon : Coupon
        The coupon.
    adopted : Adopted
        The adopted editions.
    """
    subject = Subject("coupon", coupon.id)
    findings = [_supervised(evidence, coupon, adopted)]
    findings.append(responsibility.judge_proof(evidence.brazer, coupon.brazed_by, adopted=adopted))
    session = judge_session(subject, _cleaning(coupon), _purge(evidence, coupon), adopted=adopted)
    if session is not None:
        findings += session.findings
    findings.append(
        judge_coupon_metal(
            CouponMetal(coupon.id, p_numbers_of(coupon), _production(evidence)), adopted=adopted
        )
    )
    findings += _variables(coupon, adopted)
    findings += _marked(coupon, adopted)
    findings += _proved_late(coupon, adopted)
    findings += _filler(coupon, adopted)
    findings += _cup(coupon, adopted)
    cups = judge_coupon_cups(coupon, adopted=adopted)
    findings += [cups] if cups is not None else []
    if any(j.faces for j in coupon.joints):
        findings.append(judge_coupon_faces(coupon, adopted=adopted))
    findings += _test_form(coupon, subject, adopted)
    findings += _instruments(evidence, coupon, adopted)
    return combine(findings)


def tube_od(coupon: Coupon) -> Quantity:
    """Return the outside diameter of a coupon's tube from its standard."""
    t = coupon.tube
    temper = "drawn" if t.standard == "ASTM B280" else ""
    return tube(t.standard, t.size, type_=t.kind, temper=temper).od


def p_numbers_of(coupon: Coupon) -> tuple[str, ...]:
    """Return the P-numbers of tube and fitting; empty text for an alloy without one."""
    return tuple(p_number(m.alloy).p_number or "" for m in (coupon.tube, coupon.fitting))


def table_cites(coupon: Coupon) -> tuple[Citation, ...]:
    """Return the citations of the table rows that a coupon's judgement leans on."""
    row = filler(coupon.filler)
    cites = [p_number(m.alloy).citation for m in (coupon.tube, coupon.fitting)]
    return tuple(dict.fromkeys([*cites, *([row.f_citation] if row.f_citation else [])]))


def _supervised(evidence: Evidence, coupon: Coupon, adopted: Adopted) -> Finding:
    supervisor = coupon.supervisor
    person = evidence.people.get(supervisor)
    return responsibility.judge_supervision(
        responsibility.Supervision(
            coupon.id,
            coupon.brazed_by,
            supervisor,
            person.employer if person else "",
            evidence.employer,
        ),
        adopted=adopted,
    )


def _cleaning(coupon: Coupon) -> CleaningLog:
    log = coupon.cleaning
    return CleaningLog(
        _instant(log.get("at", "")),
        coupon.started,
        tuple(log.get("with", ())),
        log.get("cut", {}),
        log.get("inside", {}),
    )


def _purge(evidence: Evidence, coupon: Coupon) -> PurgeLog:
    log = coupon.purge
    analyser = evidence.instruments.get(log.get("analyser", ""))
    return PurgeLog(
        brazed_on=coupon.brazed_on,
        gas=log.get("gas", ""),
        flow=_q(log, "flow", "flow"),
        flowmeter=log.get("flowmeter", ""),
        low_alarm=log.get("low_alarm", ""),
        outlet=log.get("outlet", ""),
        oxygen=_q(log, "oxygen", "share"),
        instead=log.get("instead", ""),
        analyser=log.get("analyser", ""),
        analyser_until=analyser.calibrated_until if analyser else None,
        until=log.get("until", ""),
        surface=_q(log, "surface", "temperature"),
        interrupted=log.get("interrupted", ""),
    )


def _variables(coupon: Coupon, adopted: Adopted) -> list[Finding]:
    """Ask for each essential variable of the braze that was not filed."""
    filed = (
        ("variable.process", "brazed.process", coupon.process),
        ("variable.machine", "brazed.manner", coupon.manner),
        ("variable.joint_type", "brazed.joint_type", coupon.joint_type),
    )
    subject = Subject("coupon", coupon.id)
    return [
        Question(rule, subject, adopted).missing(key)
        for rule, key, value in filed
        if adopted.has(rule) and not value
    ]


def _marked(coupon: Coupon, adopted: Adopted) -> list[Finding]:
    """Ask whether the parts were marked before the braze, seen by another person."""
    if not adopted.has("marking.before_brazing"):
        return []
    ask = Question("marking.before_brazing", Subject("coupon", coupon.id), adopted)
    at, seen_by = coupon.marking.get("at", ""), coupon.marking.get("seen_by", "")
    fault = ask.lacks(
        **{"marking.at": at, "brazed.started": coupon.started, "marking.seen_by": seen_by}
    )
    if fault is not None or coupon.started is None:
        return [fault or ask.missing("brazed.started")]
    shown = {"coupon": coupon.id, "at": at, "seen_by": seen_by}
    if parse_instant(at) > coupon.started:
        return [ask.hold(Message("marking.late", **shown), observed=at)]
    if seen_by == coupon.brazed_by:
        return [ask.hold(Message("marking.own_eyes", **shown), observed=seen_by)]
    return [ask.answer(lambda _: Ruling(Outcome.MET, Message("marking.first", **shown)))]


def _proved_late(coupon: Coupon, adopted: Adopted) -> list[Finding]:
    """Ask when the oxygen was read: before the braze began, on its day (C-38)."""
    read_at = coupon.purge.get("oxygen_at", "")
    if not coupon.purge.get("oxygen", "") or not adopted.has("purge.max_oxygen"):
        return []
    ask = Question("purge.max_oxygen", Subject("coupon", coupon.id), adopted)
    fault = ask.lacks(oxygen_at=read_at, started=coupon.started)
    if fault is not None or coupon.started is None:
        return [fault or ask.missing("started")]
    at = parse_instant(read_at)
    if at > coupon.started:
        told = Message("purge.proved_late", coupon=coupon.id, at=read_at)
        return [ask.hold(told, observed=read_at)]
    if at.date() != coupon.started.date():
        told = Message("purge.proved_other_day", coupon=coupon.id, at=read_at)
        return [ask.hold(told, observed=read_at)]
    return []


def _production(evidence: Evidence) -> tuple[str, ...]:
    pqrs = evidence.procedure.pqrs if evidence.procedure else ()
    return tuple(sorted({p for record in pqrs for p in record.p_numbers}))


def _filler(coupon: Coupon, adopted: Adopted) -> list[Finding]:
    if not adopted.has("filler.family_copper"):
        return []
    use = FillerUse(
        coupon.id,
        (_metal(coupon.tube), _metal(coupon.fitting)),
        coupon.filler,
        coupon.flux,
        "coupon",
    )
    return [judge_filler(use, adopted=adopted)]


def _cup(coupon: Coupon, adopted: Adopted) -> list[Finding]:
    change = coupon.fitting.modified
    if change in ("", "none"):
        return []
    return [
        judge_changed_cup(
            ChangedCup(coupon.id, change, coupon.fitting.dimple_clear), adopted=adopted
        )
    ]


def _metal(member: Member) -> str:
    """Name the metal: UNS C10100 to C15999 are the coppers."""
    number = member.alloy.removeprefix("C")[:5]
    is_copper = number.isdigit() and 10100 <= int(number) <= 15999
    return "copper" if is_copper else "copper alloy"


def _test_form(coupon: Coupon, subject: Subject, adopted: Adopted) -> list[Finding]:
    if not (adopted.has("test.form") or adopted.has("peel.substitution")):
        return []
    taken = {"section" for j in coupon.joints if j.faces}
    taken |= {t.kind for j in coupon.joints if not j.faces for t in j.specimens}
    found: list[Finding] = []
    for test in sorted(taken):
        found += judge_test_form(
            ChosenTest(test, "tube", tube_od(coupon)), subject=subject, adopted=adopted
        ).findings
    return found


def _instruments(evidence: Evidence, coupon: Coupon, adopted: Adopted) -> list[Finding]:
    """Ask for every instrument that gave a figure of this coupon, and where none is named."""
    if not adopted.has("instrument.in_date"):
        return []
    uses = list(_measured(coupon))
    ask = Question("instrument.in_date", Subject("coupon", coupon.id), adopted)
    nameless = [u.what for u in uses if not u.instrument]
    found = [ask.missing(f"instrument of the {what}") for what in nameless]
    dated = sorted({(u.instrument, u.on.isoformat()) for u in uses if u.instrument})
    found += [_in_date(evidence, name, on, adopted) for name, on in dated]
    figures = [*uses, *_others(coupon)]
    return found + list(judge_doubted(evidence, figures, adopted=adopted))


def _measured(coupon: Coupon) -> Iterator[InstrumentUse]:
    """Yield the figures of a coupon that owe an instrument within its calibration."""
    on, fitting = coupon.brazed_on, coupon.fitting
    for name, m in (("tube", coupon.tube), ("fitting", fitting)):
        if m.wall:
            yield InstrumentUse(m.instrument, f"{name} wall", on, m.after_calibration)
    if fitting.cup_depth is not None:
        stated = fitting.after_calibration
        yield InstrumentUse(fitting.instrument, "fitting cup_depth", on, stated)
    for j in coupon.joints:
        if j.overlap is not None:
            what = f"overlap of {j.id}"
            yield InstrumentUse(j.overlap_instrument, what, on, j.after_calibration)
        for face in j.faces:
            for r in (r for r in face.readings if r.way == "loupe"):
                what = f"loupe reading of {face.id}"
                yield InstrumentUse(r.instrument, what, r.on, r.after_calibration)


def _others(coupon: Coupon) -> Iterator[InstrumentUse]:
    """Yield the uses that owe no calibration date here: purge analyser, photographs."""
    analyser, stated = coupon.purge.get("analyser", ""), coupon.purge.get("after_calibration")
    if analyser:
        yield InstrumentUse(analyser, "purge log", coupon.brazed_on, day_or_none(stated))
    for face in (f for j in coupon.joints for f in j.faces):
        for r in face.readings:
            if r.way != "loupe" and r.instrument:
                what = f"reading of {face.id}"
                yield InstrumentUse(r.instrument, what, r.on, r.after_calibration)


def _in_date(evidence: Evidence, name: str, on: str, adopted: Adopted) -> Finding:
    ask = Question("instrument.in_date", Subject("instrument", name), adopted)
    instrument = evidence.instruments.get(name)
    until = instrument.calibrated_until if instrument else None
    if until is None:
        return ask.missing("instruments.calibrated_until")
    shown = {"instrument": name, "on": on, "until": until.isoformat()}
    if until.isoformat() < on:
        return ask.hold(Message("instrument.out_of_date", **shown), observed=on)
    return ask.answer(
        lambda _: Ruling(
            Outcome.MET,
            Message("instrument.in_date", **shown),
            observed=on,
            limit=until.isoformat(),
        )
    )


def _instant(text: str) -> datetime | None:
    return parse_instant(text) if text else None


def _q(log: object, key: str, kind: str) -> Quantity | None:
    text = log.get(key, "")  # type: ignore[attr-defined]
    return Quantity.parse(text, kind) if text else None
