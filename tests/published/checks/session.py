"""Checks of responsibility, cleaning, purge, tie-in and production vectors."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from lapwright.core.outcomes import Subject
from lapwright.core.quantities import Quantity
from lapwright.core.times import parse_date, parse_instant
from lapwright.rules import papers, responsibility
from lapwright.rules.cleaning import CleaningLog, judge_abrasive, judge_clock, judge_done
from lapwright.rules.production import RefusedJoint, may_repair, pressure_of_test
from lapwright.rules.rulebook import Adopted
from lapwright.rules.session import (
    PurgeLog,
    TieIn,
    judge_alarm,
    judge_continuous,
    judge_flowmeter,
    judge_gas,
    judge_oxygen,
    judge_pressure,
    judge_session,
    judge_tie_in,
    judge_until,
)

COUPON = Subject("coupon", "C1")
_PURGES = {
    "gas": judge_gas,
    "continuous": judge_continuous,
    "alarm": judge_alarm,
    "pressure": judge_pressure,
    "flowmeter": judge_flowmeter,
    "oxygen": judge_oxygen,
    "until": judge_until,
}
_UNITS = {"flow": "flow", "oxygen": "share", "surface": "temperature"}
_DATES = ("analyser_until", "brazed_on")


def purge_log(given: Mapping[str, Any]) -> PurgeLog:
    """A purge log from the texts of a case."""

    def value(key: str, text: str) -> str | date | Quantity:
        if key in _DATES:
            return parse_date(text)
        return Quantity.parse(text, _UNITS[key]) if key in _UNITS else text

    return PurgeLog(**{k: value(k, v) for k, v in given.items()})  # type: ignore[arg-type]


def purge(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """One demand on the purge."""
    log = purge_log({k: v for k, v in given.items() if k != "demand"})
    return _PURGES[given["demand"]](COUPON, log, adopted=adopted)


def clock(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Hours from cleaning to brazing."""
    return judge_clock(
        COUPON,
        *(parse_instant(given[k]) if given.get(k) else None for k in ("cleaned", "brazed")),
        adopted=adopted,
    )


def cleaned_with(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """What the tube end was cleaned with."""
    return judge_abrasive(COUPON, given["used"], adopted=adopted)


def done(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Cutting, or a contaminated inside: everything on the list was done."""
    return judge_done(given["rule"], COUPON, given["done"], adopted=adopted)


def log(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A session's log as a whole."""
    cleaning = CleaningLog(
        parse_instant(given["cleaned"]), parse_instant(given["brazed"]), tuple(given["used"])
    )
    return judge_session(COUPON, cleaning, purge_log(given["purge"]), adopted=adopted)


def tie_in(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A final tie-in to a live line."""
    return judge_tie_in(TieIn("J1", given["purged"], given["outlet_tested"]), adopted=adopted)


def own_tests(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Has an organization accepted responsibility."""
    return responsibility.judge_own_tests(
        "R1", employer=given["employer"], signed_for_employer_by=given["signed_by"], adopted=adopted
    )


def supervision(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Who supervised the brazing."""
    return responsibility.judge_supervision(
        responsibility.Supervision("C1", **given), adopted=adopted
    )


def bought_in(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """An activity bought in."""
    return responsibility.judge_bought_in(
        "R1",
        given["activity"],
        done_by=given["done_by"],
        accepted=given["accepted"],
        adopted=adopted,
    )


def common_control(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A move between sister companies."""
    return responsibility.judge_common_control("J", **given, adopted=adopted)


def together(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Several organizations in one session: one answer for each, and why the first is open."""
    firms = [
        responsibility.Firm(f["name"], f["present"], f.get("variables", {})) for f in given["firms"]
    ]
    found = responsibility.judge_simultaneous(firms, compared=given["compared"], adopted=adopted)
    first = found[firms[0].name]
    return {**found, "why": first.why, "message": first.message.id}


def mark(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """A brazer mark."""
    return responsibility.judge_mark(
        "J", given["mark"], active=given["active"], retired=given["retired"], adopted=adopted
    )


def record_fields(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """The fields of a performance record."""
    return papers.judge_record_fields("R1", given["filled"], adopted=adopted)


def certified(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """How a record is certified."""
    return papers.judge_certified("R1", **given, adopted=adopted)


def site_records(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Records on the site where a law asks for them."""
    return papers.judge_site_records("JOB", **given, adopted=adopted)


def remedy(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Repair or cut-out of a refused joint, and the test pressure afterwards where asked."""
    found = may_repair(
        RefusedJoint("J1", given["condition"], int(given["repairs"])), adopted=adopted
    )
    answer: dict[str, Any] = {"finding": found.finding, "action": found.action}
    if given.get("operating"):
        operating = Quantity.parse(given["operating"], "pressure")
        answer["test"] = pressure_of_test(operating, adopted=adopted)
    return answer


CHECKS = {
    f"session.{f.__name__}": f
    for f in (
        purge,
        clock,
        cleaned_with,
        done,
        log,
        tie_in,
        own_tests,
        supervision,
        bought_in,
        common_control,
        together,
        mark,
        record_fields,
        certified,
        site_records,
        remedy,
    )
}
