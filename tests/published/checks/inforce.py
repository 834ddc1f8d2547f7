"""Checks of what is in force on days: an invented history in, each day's answer out."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from lapwright.core.evidence import Doubt
from lapwright.core.outcomes import Outcome, Verdict, combine
from lapwright.core.times import parse_date
from lapwright.rules.borrowed import Borrowed, judge_borrowed
from lapwright.rules.continuity import Use, standing_on
from lapwright.rules.inforce import Held, in_force
from lapwright.rules.installers import judge_installer, judge_may_braze, judge_on_site
from lapwright.rules.qualified import (
    Credential,
    History,
    Qualification,
    Test,
    Variables,
    Withdrawal,
)
from lapwright.rules.rulebook import Adopted

PLAIN = {
    "process": "TB",
    "manner": "manual",
    "p_numbers": "107/107",
    "f_number": "103",
    "form": "rod",
    "joint_type": "socket",
    "kind": "1-1/2 L ASME B16.50",
}


def on_days(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Say for each day asked about the outcome, why it is open, and each code's clock."""
    held = _held(adopted, given)
    found: dict[str, Any] = {"verdicts": []}
    for text in given["days"]:
        day, _, position = text.partition(" ")
        verdict = held.on(parse_date(day), position=position)
        found["verdicts"].append(verdict)
        found[text] = _said(verdict)
        for clock in held.clocks:
            span = standing_on(clock.proved, parse_date(day))
            found[f"{clock.rule.code} {day}"] = "in time" if span else "ended"
    for clock in held.clocks:
        found[f"{clock.rule.code} ends"] = ", ".join(s.ends.isoformat() for s in clock.proved)
        found[f"{clock.rule.code} use"] = clock.scope
    return found


def _said(verdict: Verdict) -> str:
    if verdict.outcome is not Outcome.UNDETERMINED:
        return verdict.outcome.value
    act = f", act on {verdict.act_on.value}" if verdict.act_on is not None else ""
    return f"{verdict.why.value if verdict.why else ''}{act}"


def _held(adopted: Adopted, given: Mapping[str, Any]) -> Held:
    records = [_record(n, r) for n, r in enumerate(given["records"], start=1)]
    history = History(
        "wren",
        tuple(records),
        tuple(_use(u) for u in given.get("uses", ())),
        tuple(_doubt(d) for d in given.get("doubts", ())),
        late_paper=given.get("late_paper", ""),
    )
    return in_force(history, records[0], adopted=adopted)


def _record(number: int, given: Mapping[str, Any]) -> Qualification:
    on = parse_date(given["brazed"])
    own = {k: v for k, v in given.items() if k in PLAIN}
    letters = given.get("positions", ["C"])
    tests = tuple(
        Test(f"K{number}", on, given.get("procedure", "P1"), Variables(**PLAIN | own, position=p))
        for p in letters
    )
    gone = given.get("withdrawn")
    return Qualification(
        f"R{number}",
        "wren",
        "Quillon Pipeworks",
        "TB",
        (given.get("procedure", "P1"),),
        tests,
        certified_on=parse_date(given.get("certified", given["brazed"])),
        withdrawn=Withdrawal(parse_date(gone["on"]), "lead", "for cause", parse_date(gone["event"]))
        if gone
        else None,
    )


def _use(given: Mapping[str, Any]) -> Use:
    on = parse_date(given["on"])
    return Use(
        on,
        "TB",
        given.get("procedure", "P1"),
        given.get("by", "osgood"),
        parse_date(given["written"]) if given.get("written") else on,
    )


def _doubt(given: Mapping[str, Any]) -> Doubt:
    since = parse_date(given["event"]) if given.get("event") else None
    return Doubt(
        "D1",
        "person:wren",
        "lead",
        given.get("reason", ""),
        since,
        parse_date(given["on"]),
        scope=given.get("variables", {}),
    )


def installer(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Say what a credential and a qualification allow on a day."""
    day = parse_date(given["day"])
    noted = [Credential(k, "a body", parse_date(u), day) for k, u in given["credentials"].items()]
    verdict = combine([*_held(adopted, given).findings(day)])
    return {
        "install": judge_installer("wren", noted, day, adopted=adopted),
        "braze": judge_may_braze("wren", verdict, adopted=adopted),
    }


def site(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge a joint against the day on which the documents were on the site."""
    filed: date | None = parse_date(given["filed"]) if given.get("filed") else None
    return judge_on_site("J1", parse_date(given["brazed"]), filed, adopted=adopted)


def borrowed(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Judge a procedure that another group qualified."""
    signed = parse_date(given["signed"]) if given.get("signed") else None
    asked = Borrowed("P1", "Quillon Pipeworks", given["meets"], signed, given.get("tested", ()))
    return judge_borrowed(asked, adopted=adopted)


CHECKS = {f"inforce.{f.__name__}": f for f in (on_days, installer, site, borrowed)}
