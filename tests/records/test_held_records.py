"""A doubt on an instrument of its case holds an issued record until a person decides."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.services.certifying import Signing, certify_record
from lapwright.services.doubts import clear_doubt, raise_doubt
from lapwright.services.instruments import Filing, file_instrument
from lapwright.services.issuing import Issued
from lapwright.services.programme import Programme
from lapwright.services.programmeacts import Writing
from lapwright.services.recordlist import (
    Asked,
    list_document,
    list_lines,
    show_document,
    show_lines,
)
from lapwright.services.verifying import verify_file
from lapwright.services.withdrawing import withdraw_record

SIGNED = datetime(2026, 3, 25, 14, tzinfo=UTC)
FOUND, CLEARED = date(2026, 5, 4), date(2026, 5, 20)
WRITING = Writing("lead", datetime(2026, 6, 1, 12, tzinfo=UTC))


@pytest.fixture
def doubted(programme: Programme, issued: Issued) -> Programme:
    """Certified in ink on 25 March; the calliper found long on 4 May, written on 1 June."""
    signing = Signing("hollis", SIGNED.date(), SIGNED, scan=b"%PDF-1.7 a page")
    certify_record(issued.number, programme, signing, out=None)
    _doubt(programme)
    return programme


def _doubt(programme: Programme, since: date = date(2026, 1, 5), name: str = "CAL-2") -> None:
    raise_doubt(
        name, programme.log, since=since, found_on=FOUND, reason="0.030 in long.", writing=WRITING
    )


def _state(programme: Programme, *days: date) -> str:
    shown = show_document(programme.log, "TST-01-QP7K", Asked(*days))
    (row,) = list_document(programme.log, Asked(*days))["records"]
    assert row["state"] == shown["state"] == shown["revisions"][0]["state"]
    return str(row["state"])


def _held(programme: Programme, issued: Issued, data: Path) -> Finding:
    path = programme.files.get(issued.file_sha256)
    assert issued.path.read_bytes() == path
    report = verify_file(issued.path, [data / "keys" / "trust.pem"], log=programme.log)
    return next(f for f in report.findings if f.rule == "ledger.doubts")


def test_show_and_list_name_the_doubt_and_hold_the_record(doubted: Programme) -> None:
    shown = show_document(doubted.log, "TST-01-QP7K", Asked(CLEARED))
    lines = list(show_lines(shown))
    assert lines[1].startswith("△ Open: a person must decide. It supports no joint")
    told = "CAL-2 was found out of tolerance on 2026-05-04 (CAL-2-D1: 0.030 in long)"
    assert told in lines[2]
    assert any("Certified by Hollis Wren" in line for line in lines)
    listed = list(list_lines(list_document(doubted.log, Asked(CLEARED))))
    assert "△" in listed[1]
    assert "Open: a person must decide" in listed[1]
    assert told in listed[2]


def test_verify_holds_it_too(doubted: Programme, issued: Issued, data: Path) -> None:
    found = _held(doubted, issued, data)
    assert (found.outcome, found.why) == (Outcome.UNDETERMINED, Why.HOLD)
    assert "CAL-2-D1: 0.030 in long" in dict(found.message.params)["doubts"]
    clear_doubt("CAL-2-D1", doubted.log, on=CLEARED, reason="too small", writing=WRITING)
    assert _held(doubted, issued, data).outcome is Outcome.MET


def test_the_hold_has_two_times(doubted: Programme) -> None:
    """Found on 4 May, written on 1 June; nobody could know of it in between."""
    assert _state(doubted, date(2026, 5, 3)) == "certified"
    assert _state(doubted, FOUND) == "doubted"
    assert _state(doubted, FOUND, date(2026, 5, 31)) == "certified"
    assert _state(doubted, FOUND, date(2026, 6, 1)) == "doubted"
    clear_doubt("CAL-2-D1", doubted.log, on=CLEARED, reason="too small", writing=WRITING)
    assert _state(doubted, date(2026, 5, 19)) == "doubted"
    assert _state(doubted, CLEARED) == "certified"


def test_a_doubt_that_reaches_no_figure_holds_nothing(
    programme: Programme, issued: Issued, data: Path
) -> None:
    _doubt(programme, since=date(2026, 4, 30))
    assert _state(programme, CLEARED) == "issued"
    assert _held(programme, issued, data).outcome is Outcome.MET


def test_a_later_calibration_frees_no_earlier_figure(doubted: Programme) -> None:
    filing = Filing("CAL-2", "calliper", "0.0005 in", date(2026, 5, 10), date(2027, 5, 10))
    at = date(2026, 5, 10)
    file_instrument(filing, doubted.log, doubted.files, writing=WRITING, on=at)
    assert _state(doubted, CLEARED) == "doubted"


def test_a_withdrawn_record_stays_withdrawn(doubted: Programme, issued: Issued) -> None:
    withdraw_record(issued.number, doubted, by="lead", reason="mixed up", at=WRITING.at)
    assert _state(doubted, WRITING.at.date()) == "withdrawn"
