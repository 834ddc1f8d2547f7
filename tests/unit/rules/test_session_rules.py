"""A silent log never passes; each demand on log, material and paper answers on its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity
from lapwright.core.times import parse_instant
from lapwright.rules import (
    papers,
    responsibility,
    session,
)
from lapwright.rules.cleaning import CleaningLog, judge_abrasive, judge_clock, judge_done
from lapwright.rules.rulings import held, needed
from published.adopting import adopted
from unit.rules.examining import short

IX = adopted(["asme-bpvc-ix 2015", "programme 1"])
NFPA = adopted(["nfpa-99 2012", "programme 1"])
AWS = adopted(["aws-b2.2 2016"])
NONE = adopted([])
ONE = Subject("coupon", "C1")
DAY = date(2026, 1, 5)
GOOD = session.PurgeLog(
    brazed_on=DAY,
    gas="oil-free dry nitrogen NF",
    flow=Quantity.parse("15 ft3/h", "flow"),
    flowmeter="yes",
    low_alarm="audible",
    outlet="open",
    oxygen=Quantity.parse("0.6 %", "share"),
    analyser_until=DAY,
    until="cool to the touch",
    interrupted="no",
)
CLEANED = CleaningLog(
    parse_instant("2026-01-05T07:00-06:00"),
    parse_instant("2026-01-05T09:30-06:00"),
    ("non-abrasive pad",),
    {"square": "yes", "sharp-oil-free-cutter": "yes", "deburred": "yes", "chips-kept-out": "yes"},
)
PURGES = {
    "gas": session.judge_gas,
    "flow": session.judge_continuous,
    "low_alarm": session.judge_alarm,
    "outlet": session.judge_pressure,
    "flowmeter": session.judge_flowmeter,
    "oxygen": session.judge_oxygen,
    "until": session.judge_until,
}


def flow(text: str) -> Quantity:
    return Quantity.parse(text, "flow")


def purged(**changed: Any) -> session.PurgeLog:
    return replace(GOOD, **changed)


def test_a_complete_log_is_met() -> None:
    verdict = session.judge_session(ONE, CLEANED, GOOD, adopted=NFPA)
    assert verdict is not None
    assert verdict.outcome is Outcome.MET
    assert len(verdict.findings) == 10


def test_without_confirmation_the_same_log_is_open() -> None:
    bare = adopted(["nfpa-99 2012"], "none")
    verdict = session.judge_session(ONE, CLEANED, GOOD, adopted=bare)
    assert verdict is not None
    assert (verdict.outcome, verdict.before_confirmation) == (Outcome.UNDETERMINED, Outcome.MET)


def test_a_base_standard_alone_asks_nothing_of_the_log() -> None:
    assert session.judge_session(ONE, CLEANED, GOOD, adopted=IX) is None


@pytest.mark.parametrize("field", sorted(PURGES))
def test_a_silent_purge_log_needs_data(field: str) -> None:
    found = PURGES[field](ONE, session.PurgeLog(), adopted=NFPA)
    assert short(found)[:2] == ("undetermined", "needs-data")


def test_a_silent_log_as_a_whole_needs_data() -> None:
    verdict = session.judge_session(ONE, CleaningLog(), session.PurgeLog(), adopted=NFPA)
    assert verdict is not None
    assert short(verdict)[:2] == ("undetermined", "needs-data")


@pytest.mark.parametrize(
    ("field", "changed", "answer"),
    [
        ("gas", {"gas": "nitrogen"}, ("undetermined", "needs-data", "purge.grade")),
        ("gas", {"gas": "shop air"}, ("not-met", "", "purge.other_gas")),
        ("flow", {"interrupted": "yes"}, ("not-met", "", "purge.interrupted")),
        ("flow", {"flow": flow("0 ft3/h")}, ("not-met", "", "purge.no_flow")),
        ("low_alarm", {"low_alarm": "whistle"}, ("undetermined", "needs-data", "rules.word")),
        (
            "outlet",
            {"outlet": "closed", "flow": None},
            ("undetermined", "needs-data", "rules.missing"),
        ),
        ("outlet", {"outlet": "closed", "flow": flow("0 ft3/h")}, ("met", "", "purge.still")),
        ("oxygen", {"analyser_until": None}, ("undetermined", "needs-data", "rules.missing")),
        ("oxygen", {"brazed_on": None}, ("undetermined", "needs-data", "rules.missing")),
        ("until", {"until": "red heat"}, ("undetermined", "hold", "purge.until_other")),
        (
            "until",
            {"surface": Quantity.parse("139.9 F", "temperature")},
            ("undetermined", "hold", "purge.until_other"),
        ),
        (
            "until",
            {"surface": Quantity.parse("60 C", "temperature")},
            ("not-met", "", "purge.stopped_hot"),
        ),
    ],
)
def test_each_demand_on_the_purge_answers(
    field: str, changed: Mapping[str, Any], answer: tuple[str, str, str]
) -> None:
    assert short(PURGES[field](ONE, purged(**changed), adopted=NFPA)) == answer


def test_a_reading_over_the_limit_is_refused_whatever_the_analyser() -> None:
    log = purged(oxygen=Quantity.parse("2 %", "share"), analyser_until=None)
    assert short(session.judge_oxygen(ONE, log, adopted=NFPA))[0] == "not-met"


def test_brazing_before_cleaning_is_a_wrong_log() -> None:
    found = judge_clock(ONE, CLEANED.brazed_at, CLEANED.cleaned_at, adopted=NFPA)
    assert short(found) == ("undetermined", "needs-data", "cleaning.before")


def test_the_clock_counts_across_a_change_of_offset() -> None:
    # 2026-03-08 02:00 -06:00 is 03:00 -05:00: seven hours pass between 00:30 and 08:30.
    found = judge_clock(
        ONE,
        parse_instant("2026-03-08T00:30-06:00"),
        parse_instant("2026-03-08T08:30-05:00"),
        adopted=NFPA,
    )
    assert dict(found.message.params)["hours"] == "7 h 00 min"


def test_a_thing_that_no_rule_names_is_asked_about() -> None:
    found = judge_abrasive(ONE, ["magic sponge"], adopted=NFPA)
    assert short(found) == ("undetermined", "needs-data", "cleaning.strange")


@pytest.mark.parametrize(
    ("done", "answer"),
    [
        ({}, ("undetermined", "needs-data", "cleaning.not_logged")),
        ({"square": "no"}, ("not-met", "", "cleaning.left_out")),
    ],
)
def test_what_was_left_out_is_told(done: Mapping[str, str], answer: tuple[str, str, str]) -> None:
    assert short(judge_done("cleaning.cut", ONE, done, adopted=NFPA)) == answer


def test_a_tested_tie_in_owes_no_purge() -> None:
    tie_in = session.TieIn("J1", "no", "yes")
    assert short(session.judge_tie_in(tie_in, adopted=NFPA)) == ("met", "", "tie_in.tested")
    silent = session.TieIn("J1", "no", "")
    assert short(session.judge_tie_in(silent, adopted=NFPA))[1] == "needs-data"


SUPERVISED = responsibility.Supervision("C1", "J", "S", "Q", "Q")


@pytest.mark.parametrize(
    ("changed", "answer"),
    [
        ({}, ("met", "", "supervision.own")),
        ({"supervisor_employer": ""}, ("undetermined", "needs-data", "rules.missing")),
        ({"brazer": ""}, ("undetermined", "needs-data", "rules.missing")),
        ({"supervisor_employer": "F", "together": "yes"}, ("met", "", "supervision.own")),
    ],
)
def test_supervision(changed: dict[str, str], answer: tuple[str, str, str]) -> None:
    given = replace(SUPERVISED, **changed)
    assert short(responsibility.judge_supervision(given, adopted=IX)) == answer


@pytest.mark.parametrize(
    ("activity", "done_by", "accepted", "answer"),
    [
        ("braze", "own", "", ("met", "", "bought_in.own")),
        ("braze", "external", "yes", ("not-met", "", "bought_in.never")),
        ("parts", "external", "", ("undetermined", "needs-data", "rules.missing")),
        ("parts", "somebody", "yes", ("undetermined", "needs-data", "rules.word")),
        ("transport", "own", "", ("undetermined", "hold", "bought_in.unknown")),
    ],
)
def test_bought_in(
    activity: str, done_by: str, accepted: str, answer: tuple[str, str, str]
) -> None:
    assert (
        short(
            responsibility.judge_bought_in(
                "R1", activity, done_by=done_by, accepted=accepted, adopted=IX
            )
        )
        == answer
    )


def together(present: str, compared: str, **variables: str) -> Finding:
    firm = responsibility.Firm("A", present, variables)
    other = responsibility.Firm("B", "yes", {"process": "TB", "overlap": "1.00 in"})
    return responsibility.judge_simultaneous([firm, other], compared=compared, adopted=IX)["A"]


def test_organizations_that_test_together() -> None:
    assert short(together("yes", "yes", process="TB", overlap="0.50 in"))[0] == "met"
    assert short(together("yes", "yes", process="IB"))[2] == "together.differ"
    assert short(together("yes", "no", process="TB")) == ("not-met", "", "together.not_compared")
    assert short(together("", "yes", process="TB"))[1] == "needs-data"
    assert short(together("yes", "", process="TB"))[1] == "needs-data"


@pytest.mark.parametrize(
    ("person", "results", "answer"),
    [
        ("J", {}, ("undetermined", "needs-data", "rules.missing")),
        ("J", {"tension": ""}, ("undetermined", "needs-data", "rules.missing")),
        ("J", {"tension": "failed", "section": "failed"}, ("not-met", "", "pqr_brazer.failed")),
        ("M", {"tension": "passed"}, ("not-met", "", "proof.other")),
    ],
)
def test_the_brazer_of_a_procedure_coupon(
    person: str, results: dict[str, str], answer: tuple[str, str, str]
) -> None:
    assert (
        short(responsibility.judge_pqr_brazer(person, brazed_by="J", results=results, adopted=IX))
        == answer
    )


def test_a_procedure_with_a_record_is_supported() -> None:
    judge = responsibility.judge_procedure_qualified
    assert short(judge("P", ["Q1"], adopted=IX))[0] == "met"
    assert short(judge("P", [], for_pqr="", adopted=IX))[1] == "needs-data"


def test_proof_mark_and_certification() -> None:
    assert short(responsibility.judge_proof("J", "J", adopted=IX))[0] == "met"
    assert short(responsibility.judge_proof("J", "", adopted=IX))[1] == "needs-data"
    judge = responsibility.judge_mark
    assert short(judge("J", "K7", active={"J": "K7"}, retired=[], adopted=IX))[0] == "met"
    assert short(judge("J", "", active={}, retired=[], adopted=IX))[1] == "needs-data"
    certified = papers.judge_certified
    assert short(certified("R", signature="", described_means="", adopted=IX))[1] == "needs-data"
    assert short(certified("R", signature="S", described_means="", adopted=IX))[0] == "met"
    assert short(certified("R", signature="", described_means="QM 4", adopted=IX))[0] == "met"


@pytest.mark.parametrize(
    ("jurisdiction", "work", "on_site", "answer"),
    [
        ("Ohio", "building services piping", "yes", ("met", "", "site.records")),
        (
            "Elsewhere",
            "building services piping",
            "no",
            ("undetermined", "unread", "site.unknown_law"),
        ),
        ("Ohio", "", "no", ("undetermined", "needs-data", "rules.missing")),
        ("Ohio", "building services piping", "", ("undetermined", "needs-data", "rules.missing")),
    ],
)
def test_records_on_the_site(
    jurisdiction: str, work: str, on_site: str, answer: tuple[str, str, str]
) -> None:
    assert (
        short(
            papers.judge_site_records(
                "JOB", jurisdiction=jurisdiction, work=work, on_site=on_site, adopted=IX
            )
        )
        == answer
    )


def test_rulings_that_stay_open_say_why() -> None:
    assert (held("x.y").why, needed("x.y").why) != (None, None)
    assert session.judge_gas(ONE, GOOD, adopted=NONE).outcome is Outcome.UNDETERMINED
