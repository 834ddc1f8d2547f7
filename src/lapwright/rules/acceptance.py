"""Whether a new employer may take over a former employer's test record, and from when.

NFPA 99 lets a new employer accept the record of a test on the same or an
equivalent procedure, of which it obtains a copy that it signs and dates (memory;
see ``record.former_employer``). The base standard knows no transfer between
unrelated organizations (ASME BPVC IX, QG-106.2), so an acceptance is valid for
NFPA 99 work only, and from the day it was signed, never before. Companies under
one described control of brazer qualification are one organization in this.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why

from .asking import Question
from .continuity import RULE as GAP
from .continuity import Clock, judge_late_paper, judge_unbroken
from .paperstanding import FORMER
from .responsibility import judge_common_control
from .rulebook import Adopted
from .rulings import met, not_met
from .sidebyside import Compared, failing

# What an acceptance leans on beyond the rules that decide a test: the booklet holds these too.
LEANS_ON = (
    FORMER,
    "bps.topics",
    "procedure.flux",
    "record.fields",
    "bore.no_oxide",
    "responsibility.common_control",
)


@dataclass(frozen=True)
class Asked:
    """Who asks for whom: record, person, the two employers, the days.

    ``control_document`` says where a common control of both companies is described.
    """

    record: str
    person: str
    former: str
    present: str
    signed_on: date
    as_of: date
    control_document: str = ""


def judge_route(asked: Asked, *, adopted: Adopted) -> Finding:
    """Judge by which way a record may serve another employer at all.

    Parameters
    ----------
    asked : Asked
        The two employers; with ``control_document`` they may be one organization.
    adopted : Adopted
        The adopted editions. Where none of them states an acceptance, the base standard's
        own rule stands: each organization has its own brazers tested.
    """
    if asked.control_document and adopted.has("responsibility.common_control"):
        return judge_common_control(
            asked.person,
            former=asked.former,
            present=asked.present,
            control_document=asked.control_document,
            adopted=adopted,
        )
    if adopted.has(FORMER):
        ask = Question(FORMER, Subject("record", asked.record), adopted)
        scope = ", ".join(r.cite.title or r.code for r in adopted.all(FORMER))
        return ask.answer(lambda _: met("accept.scope", record=asked.record, scope=scope))
    ask = Question("responsibility.own_tests", Subject("record", asked.record), adopted)
    shown = {"former": asked.former, "present": asked.present}
    return ask.answer(lambda _: not_met("accept.no_transfer", **shown))


def judge_passed(
    record: str, verdict: Verdict, positions: Sequence[str], *, adopted: Adopted
) -> Finding:
    """Judge whether a case, or a record of this program, shows a test that was passed.

    Parameters
    ----------
    record : str
        Id of the case.
    verdict : Verdict
        Its decision.
    positions : sequence of str
        Flow positions that passed; one is enough, because each answers for itself.
    adopted : Adopted
        The new employer's editions.
    """
    ask = Question(FORMER, Subject("record", record), adopted)
    if positions:
        shown = ", ".join(positions)
        return ask.answer(lambda _: met("accept.passed", positions=shown, saw=shown))
    if verdict.outcome is Outcome.NOT_MET:
        return ask.answer(lambda _: not_met("accept.failed", record=record))
    return ask.open(verdict.why or Why.NEEDS_DATA, Message("accept.undecided", record=record))


def judge_equivalent(asked: Asked, rows: Sequence[Compared], *, adopted: Adopted) -> Finding:
    """Judge whether the two procedures are the same or equivalent, from their variables.

    Parameters
    ----------
    asked : Asked
        The record.
    rows : sequence of Compared
        Every variable side by side.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(FORMER, Subject("record", asked.record), adopted)
    differ = failing(rows)
    if differ:
        names = _plain(differ)
        return ask.answer(lambda _: not_met("accept.not_equivalent", variables=names, saw=names))
    waiting = [r.variable for r in rows if r.finding.before_confirmation is Outcome.UNDETERMINED]
    if waiting or not rows:
        why = {r.finding.why for r in rows if r.variable in waiting}
        told = Message("accept.equivalence_open", variables=_plain(waiting) or "–")
        return ask.open(Why.HOLD if Why.HOLD in why else Why.NEEDS_DATA, told)
    return ask.answer(lambda _: met("accept.equivalent", number=str(len(rows))))


def _plain(variables: Sequence[str]) -> str:
    return ", ".join(name.replace("_", " ").replace("-", " ") for name in variables)


def judge_signed(asked: Asked, *, adopted: Adopted) -> Finding:
    """Judge whether the day asked about lies on or after the signature.

    Parameters
    ----------
    asked : Asked
        The two days.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(FORMER, Subject("record", asked.record), adopted)
    on, day = asked.signed_on.isoformat(), asked.as_of.isoformat()
    if asked.as_of < asked.signed_on:
        return ask.answer(lambda _: not_met("accept.not_before", on=on, day=day, saw=day, bound=on))
    return ask.answer(lambda _: met("accept.from", on=on, saw=day, bound=on))


def judge_joint_day(
    asked: Asked, joint: str, brazed_on: date, *, stands: Verdict, adopted: Adopted
) -> Finding:
    """Judge whether a joint lies within an acceptance by its date; sizes are judged elsewhere.

    Parameters
    ----------
    asked : Asked
        The day of the signature.
    joint : str
        The joint.
    brazed_on : date
        Its braze date.
    stands : Verdict
        Whether the acceptance stands at all.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(FORMER, Subject("joint", joint), adopted)
    on, made = asked.signed_on.isoformat(), brazed_on.isoformat()
    shown = {"joint": joint, "made": made, "on": on}
    if brazed_on < asked.signed_on:
        return ask.answer(lambda _: not_met("accept.joint_before", **shown, saw=made, bound=on))
    if stands.before_confirmation is Outcome.NOT_MET:
        return ask.answer(lambda _: not_met("accept.joint_void", **shown, saw=made, bound=on))
    if stands.before_confirmation is Outcome.UNDETERMINED:
        return ask.open(stands.why or Why.NEEDS_DATA, Message("accept.joint_open", **shown))
    return ask.answer(lambda _: met("accept.joint_after", **shown, saw=made, bound=on))


def judge_clock(asked: Asked, clock: Clock, *, adopted: Adopted) -> tuple[Finding, ...]:
    """Judge unbroken use up to the signature, and tell late paper.

    Parameters
    ----------
    asked : Asked
        The day of the signature.
    clock : Clock
        Braze dates and uses.
    adopted : Adopted
        The adopted editions.
    """
    late = judge_late_paper(clock, adopted=adopted)
    unbroken = judge_unbroken(clock, asked.signed_on, adopted=adopted)
    return (unbroken,) if late is None else (unbroken, late)


def judge_no_clock(asked: Asked, verdict: Verdict, *, adopted: Adopted) -> Finding:
    """Say that no clock runs: no coupon of the test has passed.

    Parameters
    ----------
    asked : Asked
        The record.
    verdict : Verdict
        The decision on the test; an open one leaves the clock open.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(GAP, Subject("record", asked.record), adopted)
    if verdict.outcome is Outcome.NOT_MET:
        return ask.answer(lambda _: not_met("accept.no_clock", record=asked.record))
    told = Message("accept.clock_open", record=asked.record)
    return ask.open(verdict.why or Why.NEEDS_DATA, told)


def judge_left_out(asked: Asked, coupon: str, brazed_on: date, *, adopted: Adopted) -> Finding:
    """Say that a coupon without a passed joint opens no clock, and is not counted as a use.

    Whether brazing it used the process is another question, which no code answers; the
    stricter answer is taken. A use with a witness can be filed for that day.

    Parameters
    ----------
    asked : Asked
        The record.
    coupon : str
        The coupon.
    brazed_on : date
        Its braze date.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(GAP, Subject("coupon", coupon), adopted)
    shown = {"coupon": coupon, "day": brazed_on.isoformat()}
    return ask.answer(lambda _: met("accept.coupon_left_out", **shown, saw=shown["day"]))
