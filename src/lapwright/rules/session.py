"""The purge, and a session's log as a whole.

NFPA 99, joints of medical-gas piping (5.1.10.4; paragraphs per edition as the
rule files say): oil-free dry nitrogen NF without a break, source watched with
an audible alarm, flow set by regulator and flowmeter without building
pressure, oxygen at the discharge below 1 % before brazing, flow kept until the
joint is cool to the touch. The reading at the discharge decides, never a sum;
nothing here says that a place is fit to breathe in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, combine
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .cleaning import YES_NO, CleaningLog, judge_abrasive, judge_clock, judge_done
from .rulebook import Adopted, Rule
from .rulings import held, met, needed, not_met, word

ALARMS = ("audible", "visual", "gauge", "none")
OTHER_GASES = ("none", "air", "shop-air", "argon", "carbon-dioxide", "oxygen")


@dataclass(frozen=True)
class PurgeLog:
    """What the log says of the purge of one coupon or joint.

    ``flowmeter`` and ``interrupted`` are ``yes`` or ``no``; ``outlet`` is
    ``open`` or ``closed``; ``low_alarm`` one of `ALARMS`; ``instead`` is what
    the log says in place of an oxygen reading; ``analyser`` the id of the one
    named and ``analyser_until`` the day on which its calibration ends; ``until``
    what the purge was kept on for, ``surface`` a surface temperature if that is what was written.
    """

    brazed_on: date | None = None
    gas: str = ""
    flow: Quantity | None = None
    flowmeter: str = ""
    low_alarm: str = ""
    outlet: str = ""
    oxygen: Quantity | None = None
    instead: str = ""
    analyser: str = ""
    analyser_until: date | None = None
    until: str = ""
    surface: Quantity | None = None
    interrupted: str = ""


@dataclass(frozen=True)
class TieIn:
    """A final tie-in to a live line: was it purged, was the nearest outlet downstream tested."""

    joint: str
    purged: str
    outlet_tested: str


def judge_gas(subject: Subject, log: PurgeLog, *, adopted: Adopted) -> Finding:
    """Judge the purge gas; a bare "nitrogen" is asked about, its grade is the point.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    log : PurgeLog
        The log of its purge.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("purge.gas", subject, adopted)
    return ask.lacks(**{"purge.gas": log.gas}) or ask.answer(lambda rule: _gas(rule, log.gas))


def _gas(rule: Rule, gas: str) -> Ruling:
    if word(gas) == rule.value:
        return met("purge.gas", gas=gas)
    if word(gas) in OTHER_GASES:
        return not_met("purge.other_gas", gas=gas, wanted=rule.value, saw=gas)
    return needed("purge.grade", gas=gas, wanted=rule.value, saw=gas)


def judge_continuous(subject: Subject, log: PurgeLog, *, adopted: Adopted) -> Finding:
    """Judge that the purge flowed while brazing, without a break.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    log : PurgeLog
        ``flow``, and ``interrupted``: a log that is silent on it shows no unbroken purge.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("purge.continuous", subject, adopted)
    if log.interrupted == "yes":
        return ask.answer(lambda _: not_met("purge.interrupted"))
    if log.flow is None:
        return ask.missing("purge.flow")
    flow = log.flow
    if flow.base <= 0:
        return ask.answer(lambda _: not_met("purge.no_flow", flow=flow.text, saw=flow.text))
    return ask.unclear("purge.interrupted", log.interrupted, YES_NO) or ask.answer(
        lambda _: met("purge.flowing", flow=flow.text, saw=flow.text)
    )


def judge_alarm(subject: Subject, log: PurgeLog, *, adopted: Adopted) -> Finding:
    """Judge how the installer is warned when the purge source runs low.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    log : PurgeLog
        ``low_alarm``: ``audible``, ``visual``, ``gauge`` or ``none``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("purge.low_alarm", subject, adopted)
    return ask.unclear("purge.low_alarm", log.low_alarm, ALARMS) or ask.answer(
        lambda rule: (
            met("purge.alarm")
            if log.low_alarm == rule.value
            else not_met("purge.silent", got=log.low_alarm, wanted=rule.value, saw=log.low_alarm)
        )
    )


def judge_pressure(subject: Subject, log: PurgeLog, *, adopted: Adopted) -> Finding:
    """Judge that the purge builds no pressure: flow into a closed end does.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    log : PurgeLog
        ``outlet`` and ``flow``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("purge.no_pressure", subject, adopted)
    unclear = ask.unclear("purge.outlet", log.outlet, ("open", "closed"))
    if unclear is not None or log.outlet == "open":
        return unclear or ask.answer(lambda _: met("purge.open"))
    if log.flow is None:
        return ask.missing("purge.flow")
    flow = log.flow
    if flow.base > 0:
        return ask.answer(lambda _: not_met("purge.closed", flow=flow.text, saw=flow.text))
    return ask.answer(lambda _: met("purge.still"))


def judge_flowmeter(subject: Subject, log: PurgeLog, *, adopted: Adopted) -> Finding:
    """Judge that a flowmeter set the flow; a regulator alone is not enough.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    log : PurgeLog
        ``flowmeter``: ``yes`` or ``no``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("purge.flowmeter", subject, adopted)
    return ask.unclear("purge.flowmeter", log.flowmeter, YES_NO) or ask.answer(
        lambda _: (
            met("purge.flowmeter") if log.flowmeter == "yes" else not_met("purge.no_flowmeter")
        )
    )


def judge_oxygen(subject: Subject, log: PurgeLog, *, adopted: Adopted) -> Finding:
    """Judge the oxygen reading at the discharge before brazing.

    A log that names something else in place of a reading (minutes purged,
    volumes changed) is not met; a silent log needs data. A reading that passes
    is held when the analyser's calibration had ended.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    log : PurgeLog
        ``oxygen``, ``instead``, ``analyser_until`` and ``brazed_on``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("purge.max_oxygen", subject, adopted)
    if log.oxygen is None and log.instead:
        return ask.answer(
            lambda _: not_met("oxygen.not_measured", instead=log.instead, saw=log.instead)
        )
    if log.oxygen is None:
        return ask.missing("purge.oxygen")
    oxygen = log.oxygen
    finding = ask.answer(lambda rule: _oxygen(rule, oxygen))
    if finding.computed is not Outcome.MET:
        return finding
    return _analyser(ask, log) or finding


def _oxygen(rule: Rule, oxygen: Quantity) -> Ruling:
    limit = Quantity.parse(rule.value, "share", where=rule.key)
    shown = {"oxygen": oxygen.text, "limit": limit.text}
    if oxygen < limit:
        return met("oxygen.low", saw=oxygen.text, **shown)
    return not_met("oxygen.high", saw=oxygen.text, **shown)


def _analyser(ask: Question, log: PurgeLog) -> Finding | None:
    if log.analyser_until is None or log.brazed_on is None:
        dated = "instruments.calibrated_until" if log.analyser else "purge.analyser"
        return ask.missing(dated if log.analyser_until is None else "brazed.on")
    if log.brazed_on <= log.analyser_until:
        return None
    return ask.hold(
        Message(
            "oxygen.analyser_expired",
            until=log.analyser_until.isoformat(),
            on=log.brazed_on.isoformat(),
        )
    )


def judge_until(subject: Subject, log: PurgeLog, *, adopted: Adopted) -> Finding:
    """Judge how long the purge was kept on.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    log : PurgeLog
        ``until``, or the ``surface`` temperature at which it was stopped.
    adopted : Adopted
        The adopted editions. Below the touch limit a person says whether the
        joint was cool to the touch.
    """
    ask = Question("purge.until", subject, adopted, also=("purge.touch_limit",))
    surface = log.surface
    if surface is not None:
        limits = [
            Quantity.parse(r.value, "temperature", where=r.key)
            for r in adopted.all("purge.touch_limit")
        ]
        return ask.answer(lambda rule: _stopped(rule, surface, limits))
    return ask.lacks(**{"purge.until": log.until}) or ask.answer(
        lambda rule: (
            met("purge.cool", until=log.until)
            if word(log.until) == word(rule.value)
            else held("purge.until_other", until=log.until, wanted=rule.value, saw=log.until)
        )
    )


def _stopped(rule: Rule, surface: Quantity, limits: list[Quantity]) -> Ruling:
    if any(surface >= limit for limit in limits):
        return not_met(
            "purge.stopped_hot", surface=surface.text, wanted=rule.value, saw=surface.text
        )
    return held("purge.until_other", until=surface.text, wanted=rule.value, saw=surface.text)


def judge_tie_in(given: TieIn, *, adopted: Adopted) -> Finding:
    """Judge a final tie-in to a live line.

    It owes no purge and no oxygen reading; it owes the test of the nearest
    outlet downstream.

    Parameters
    ----------
    given : TieIn
        The joint and the two answers of its log.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("purge.tie_in_exempt", Subject("joint", given.joint), adopted)
    unclear = ask.unclear("outlet_tested", given.outlet_tested, YES_NO) or ask.unclear(
        "purged", given.purged, YES_NO
    )
    return unclear or ask.answer(
        lambda _: (
            met("tie_in.tested", joint=given.joint, purged=given.purged)
            if given.outlet_tested == "yes"
            else not_met("tie_in.untested", joint=given.joint)
        )
    )


_PURGE: tuple[tuple[str, Callable[..., Finding]], ...] = (
    ("purge.gas", judge_gas),
    ("purge.continuous", judge_continuous),
    ("purge.low_alarm", judge_alarm),
    ("purge.no_pressure", judge_pressure),
    ("purge.flowmeter", judge_flowmeter),
    ("purge.max_oxygen", judge_oxygen),
    ("purge.until", judge_until),
)


def judge_session(
    subject: Subject, cleaning: CleaningLog, purge: PurgeLog, *, adopted: Adopted
) -> Verdict | None:
    """Judge the log of one coupon under every rule that an adopted edition states.

    Cutting and a contaminated inside are judged where the log speaks of them.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    cleaning : CleaningLog
        The log of cutting and cleaning.
    purge : PurgeLog
        The log of the purge.
    adopted : Adopted
        The adopted editions.

    Returns
    -------
    Verdict or None
        ``None`` when no adopted edition asks anything of a session's log.
    """
    findings = [
        judge(subject, purge, adopted=adopted) for rule, judge in _PURGE if adopted.has(rule)
    ]
    if adopted.has("cleaning.max_hours"):
        findings.append(
            judge_clock(subject, cleaning.cleaned_at, cleaning.brazed_at, adopted=adopted)
        )
    if adopted.has("cleaning.abrasives"):
        findings.append(judge_abrasive(subject, cleaning.used, adopted=adopted))
    for rule, done in (("cleaning.cut", cleaning.cut), ("cleaning.inside", cleaning.inside)):
        if done and adopted.has(rule):
            findings.append(judge_done(rule, subject, done, adopted=adopted))
    return combine(findings) if findings else None
