"""What AWS B2.2 says differently: undercut, routes, record keeping, metal groups, unread ranges.

Clauses 4.2.2 to 4.2.7 of the 2016 edition were read in part. The ranges of the
brazer were not, so any question about them answers ``unread``.
"""

from __future__ import annotations

import re

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Subject
from lapwright.core.quantities import Quantity, length

from .asking import Question, Ruling
from .rulebook import Adopted, Rule
from .rulings import held, met, needed, not_met

YES_NO = ("yes", "no")
RANGE_RULES = ("thickness.bands", "overlap.max_increase", "position.covers")
_P_NUMBER = re.compile(r"^1\d\d$")  # brazing P-numbers run from 101 upwards


def judge_undercut(joint: str, undercut: Quantity | None, *, adopted: Adopted) -> Finding:
    """Judge the depth of an undercut.

    Parameters
    ----------
    joint : str
        Id of the joint.
    undercut : Quantity or None
        Greatest depth seen, ``0 mm`` where there is none.
    adopted : Adopted
        The adopted editions. Over the absolute limit it is refused; below it
        the fraction of the thickness, not legible on the page read, is held.
    """
    ask = Question("visual.undercut", Subject("joint", joint), adopted)
    if undercut is None:
        return ask.missing("undercut")
    return ask.answer(lambda rule: _undercut(rule, undercut))


def _undercut(rule: Rule, undercut: Quantity) -> Ruling:
    limit = rule.value["max_depth"]
    shown = {"undercut": undercut.text, "limit": limit}
    if undercut > length(limit):
        return not_met("undercut.deep", saw=undercut.text, bound=f"<= {limit}", **shown)
    if undercut.base > 0:
        return held("undercut.fraction", saw=undercut.text, bound=f"<= {limit}", **shown)
    return met("undercut.none")


def judge_route(
    record: str, route: str, *, medical: str, contract_allows: str, adopted: Adopted
) -> Finding:
    """Judge the route by which a brazer was qualified.

    Parameters
    ----------
    record : str
        Id of the record.
    route : str
        ``visual`` or ``specimens``.
    medical, contract_allows : str
        ``yes`` or ``no``.
    adopted : Adopted
        The adopted editions. Visual alone never serves medical-gas work.
    """
    ask = Question("route.list", Subject("record", record), adopted)
    unclear = ask.unclear("route", route, ("visual", "specimens")) or ask.unclear(
        "medical", medical, YES_NO
    )
    if unclear is not None:
        return unclear
    if route == "specimens":
        return ask.answer(lambda _: met("route.specimens"))
    if medical == "yes":
        return ask.answer(lambda _: not_met("route.visual_medical"))
    return ask.unclear("contract_allows", contract_allows, YES_NO) or ask.answer(
        lambda _: (
            met("route.visual_allowed")
            if contract_allows == "yes"
            else not_met("route.visual_refused")
        )
    )


def judge_disposal(
    record: str, *, brazer_present: str, joints_in_use: str, adopted: Adopted
) -> Finding:
    """Judge the disposal of a record: kept while in use, which is open to reading.

    Parameters
    ----------
    record : str
        Id of the record.
    brazer_present, joints_in_use : str
        ``yes`` or ``no``: does the brazer still work here, are joints still in
        guarantee or service.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("record.retention", Subject("record", record), adopted)
    unclear = ask.unclear("brazer_present", brazer_present, YES_NO) or ask.unclear(
        "joints_in_use", joints_in_use, YES_NO
    )
    if unclear is not None:
        return unclear
    if brazer_present == "yes":
        return ask.answer(lambda _: not_met("retention.in_use", record=record))
    if joints_in_use == "yes":
        return ask.hold(Message("retention.open", record=record))
    return ask.answer(lambda _: met("retention.over", record=record))


def judge_metal_field(record: str, p_number: str, *, adopted: Adopted) -> Finding:
    """Judge that a P-Number field holds a P-Number, not a group of another standard.

    Parameters
    ----------
    record : str
        Id of the record.
    p_number : str
        What was typed.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("metal.grouping", Subject("record", record), adopted)
    return ask.lacks(p_number=p_number) or ask.answer(
        lambda _: (
            met("metal.p_number", got=p_number)
            if _P_NUMBER.match(p_number)
            else not_met("metal.other_group", got=p_number, saw=p_number)
        )
    )


def judge_range(rule_id: str, subject: Subject, asked: str, *, adopted: Adopted) -> Finding:
    """Answer a range question: the text of the brazer's ranges was not read.

    Parameters
    ----------
    rule_id : str
        One of `RANGE_RULES`.
    subject : Subject
        The joint asked about.
    asked : str
        The value asked about.
    adopted : Adopted
        The adopted editions; one that states the range is judged by the range rules.
    """
    return Question(rule_id, subject, adopted).answer(
        lambda rule: needed("range.elsewhere", asked=asked, rule=rule.id, saw=asked)
    )
