"""Installers, borrowed procedures and warning days: each answer by itself."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

import pytest
from dateutil.relativedelta import relativedelta

from lapwright.core.outcomes import Outcome, Why, combine
from lapwright.rules.borrowed import Borrowed, judge_borrowed
from lapwright.rules.due import lead_days
from lapwright.rules.installers import judge_installer, judge_may_braze, judge_on_site
from lapwright.rules.qualified import Credential
from published.adopting import adopted
from unit.rules.forcing import BOTH, JANUARY

ASME = adopted(["asme-bpvc-ix 2023", "programme 1"])


@pytest.mark.parametrize(
    ("kind", "until", "outcome", "why"),
    [
        ("installer ASSE 6010", date(2025, 1, 15), Outcome.MET, None),
        ("ASSE-6010", date(2025, 1, 14), Outcome.NOT_MET, None),
        ("installer", date(2026, 1, 1), Outcome.UNDETERMINED, Why.NEEDS_DATA),
        ("verifier ASSE 6030", date(2026, 1, 1), Outcome.NOT_MET, None),
    ],
)
def test_only_the_credential_with_its_designation_lets_install(
    kind: str, until: date, outcome: Outcome, why: Why | None
) -> None:
    found = judge_installer("wren", [Credential(kind, "x", until, JANUARY)], JANUARY, adopted=BOTH)
    assert (found.outcome, found.why) == (outcome, why)
    assert judge_installer("wren", [], JANUARY, adopted=ASME).why is Why.UNREAD


def test_nobody_brazes_without_a_qualification_and_an_open_one_stays_open() -> None:
    assert judge_may_braze("wren", None, adopted=BOTH).outcome is Outcome.NOT_MET
    waiting = judge_may_braze("wren", combine([]), adopted=BOTH)
    assert (waiting.outcome, waiting.why) == (Outcome.UNDETERMINED, Why.NEEDS_DATA)


def test_documents_are_on_site_on_the_day_itself_or_before() -> None:
    assert judge_on_site("J1", JANUARY, JANUARY, adopted=BOTH).outcome is Outcome.MET
    assert judge_on_site("J1", JANUARY, None, adopted=BOTH).why is Why.NEEDS_DATA


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (Borrowed("P1", "Quillon", "yes", JANUARY, ["wren"]), "borrowed.usable"),
        (Borrowed("P1", "Quillon", "yes", None, ["wren"]), "borrowed.unsigned"),
        (Borrowed("P1", "Quillon", "no", JANUARY, ["wren"]), "borrowed.not_the_code"),
        (Borrowed("P1", "Quillon", "", JANUARY, ["wren"]), "rules.missing"),
    ],
)
def test_a_borrowed_procedure_meets_the_code_is_signed_and_tested(
    given: Borrowed, told: str
) -> None:
    assert judge_borrowed(given, adopted=BOTH).message.id == told


@pytest.mark.parametrize("last", [date(2024, 8, 31), date(2025, 1, 15), date(2025, 10, 31)])
def test_warning_days_lie_in_order_before_the_clock_runs_out(last: date) -> None:
    leads = lead_days(last, adopted=BOTH)
    assert [lead.months for lead in leads] == ["4", "5", "5.5"]
    assert leads[0].on == last + relativedelta(months=4)
    assert all(a.on < b.on for a, b in pairwise(leads))
    assert leads[-1].on < last + relativedelta(months=6)
    assert lead_days(last, adopted=adopted(["nfpa-99 2018"])) == ()
