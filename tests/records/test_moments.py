"""When something was written never goes back; the day of an act is the civil day at the place."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from lapwright.cli import common
from lapwright.core.acts import Act
from lapwright.ledger import checker
from lapwright.ledger.log import MemoryLog
from lapwright.services.certifying import Signing, certify_record
from lapwright.services.issuing import Issued
from lapwright.services.ledgerexport import export_ledger
from lapwright.services.ledgerwriting import last_moment, write
from lapwright.services.people import NewPerson, enrol, forget
from lapwright.services.programme import Programme
from lapwright.services.recordlist import Asked, show_document
from lapwright.services.register import must_be_known
from lapwright.services.withdrawing import withdraw_record
from records.ledgers import AT, Ledger, act, small_ledger, some_keys

CHICAGO = ZoneInfo("America/Chicago")
NOON = datetime(2026, 12, 10, 12, tzinfo=UTC)


def _state(programme: Programme, *days: date) -> str:
    return str(show_document(programme.log, "TST-01-QP7K", Asked(*days))["state"])


def test_a_clock_set_back_changes_no_answer_about_an_earlier_day(
    programme: Programme, issued: Issued
) -> None:
    signing = Signing("hollis", NOON.date(), NOON, scan=b"%PDF-1.7 a page")
    certify_record(issued.number, programme, signing, out=None)
    asked = (date(2026, 12, 5), date(2026, 12, 5))
    before = _state(programme, *asked)
    back = NOON - timedelta(days=7)
    withdraw_record(issued.number, programme, by="lead", reason="mixed up", at=back)
    _, revision = must_be_known(programme.log, issued.number)
    assert revision.withdrawn is not None
    assert revision.withdrawn.recorded_at == NOON
    assert revision.withdrawn.happened_on == back.date()
    assert _state(programme, *asked) == before == "issued"
    assert _state(programme, NOON.date(), NOON.date()) == "withdrawn"


def test_no_entry_is_of_an_earlier_moment_than_the_one_before() -> None:
    log = MemoryLog()
    assert last_moment(log) is None
    hours = (5, 3, 7, 1)
    acts = [act("TrainingGiven", {"person": "ines", "what": str(h)}) for h in hours]
    moved = [_at(a, h) for a, h in zip(acts, hours, strict=True)]
    write(log, moved[:2])
    write(log, moved[2:])
    found = [e.act.recorded_at.hour - AT.hour for e in log.entries()]
    assert found == [5, 5, 7, 7]
    assert last_moment(log) == AT + timedelta(hours=7)


def _at(found: Act, hours: int) -> Act:
    return replace(found, recorded_at=AT + timedelta(hours=hours))


def test_the_checker_names_an_entry_of_an_earlier_moment(tmp_path: Path) -> None:
    ledger = small_ledger(tmp_path / "data")
    good = _checked(ledger, tmp_path / "good")
    assert good.outcome == "met"
    size = ledger.log.size()
    ledger.log.append([_at(act("TrainingGiven", {"person": "ines", "what": "late"}), -24)])
    found = _checked(ledger, tmp_path / "back")
    assert (found.outcome, found.faults) == ("open", [])
    (step,) = [s for s in found.steps if s.outcome == "open"]
    assert step.says.startswith(f"Entry {size} is of an earlier moment than one before it")


def _checked(ledger: Ledger, out: Path) -> checker.Checked:
    export_ledger(out, ledger, keys=some_keys(), at=AT)
    key = some_keys().token_key.public_key().public_bytes_raw()
    return checker.check(out, keys=[key])


def test_the_day_of_an_act_is_the_day_at_the_place(programme: Programme, issued: Issued) -> None:
    """20:00 on 10 December in Chicago is 02:00 on 11 December in UTC."""
    evening = datetime(2026, 12, 10, 20, tzinfo=CHICAGO)
    withdraw_record(issued.number, programme, by="lead", reason="mixed up", at=evening)
    _, revision = must_be_known(programme.log, issued.number)
    assert revision.withdrawn is not None
    assert revision.withdrawn.happened_on == date(2026, 12, 10)
    assert revision.withdrawn.recorded_at == datetime(2026, 12, 11, 2, tzinfo=UTC)
    assert _state(programme, date(2026, 12, 10)) == "withdrawn"
    new = NewPerson("petra", "Petra Lindqvar", "responsible person", "Harrow Fold Mechanical")
    enrol(programme.log, new, secret=programme.keys.salt, by="lead", at=evening)
    done = forget(programme, "petra", reason="asked for it", by="lead", at=evening)
    assert done.on == "2026-12-10"
    assert [e.act.happened_on.day for e in programme.log.entries()][-2:] == [10, 10]


@pytest.fixture
def far_zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """Set this process to a zone in which it is another day than in UTC; give its hours."""
    hours = -12 if common.now().astimezone(UTC).hour < 12 else 14
    monkeypatch.setenv("TZ", f"FAR{-hours}")
    time.tzset()
    yield hours
    monkeypatch.undo()
    time.tzset()


def test_now_on_the_command_line_bears_the_day_of_this_machines_zone(far_zone: int) -> None:
    at = common.now()
    assert at.utcoffset() == timedelta(hours=far_zone)
    assert at.date() != at.astimezone(UTC).date()
    assert common.today() in (at.date(), at.date() + timedelta(days=1))


def test_a_clock_behind_the_ledger_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    log = MemoryLog()
    common.tell_clock(log, AT)
    write(log, [act("TrainingGiven", {"person": "ines", "what": "x"})])
    common.tell_clock(log, AT)
    assert capsys.readouterr().err == ""
    common.tell_clock(log, AT - timedelta(hours=1))
    assert "the ledger's last entry is of 2026-03-13T07:30:00+00:00" in capsys.readouterr().err
