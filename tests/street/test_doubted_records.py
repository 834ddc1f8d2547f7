"""A doubt on an instrument holds the record of the case that it touched, and is attached to it."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.outcomes import Outcome
from lapwright.services.bearing import bearing_acts
from lapwright.services.casestream import read_case, read_judged
from lapwright.services.doubts import clear_doubt, raise_doubt
from lapwright.services.errors import CaseHasLater, CaseOpen
from lapwright.services.instruments import Filing, file_instrument
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.programme import STREAM, Programme
from lapwright.services.programmeacts import Writing
from lapwright.services.recordfile import inspected, judge_again, parts_of
from lapwright.services.verifying import verify_file

from .building import case_folder, programme_in

BRAZED, FOUND, CLEARED, LATER = (
    date(2026, 3, 20),
    date(2026, 5, 4),
    date(2026, 5, 20),
    date(2026, 6, 1),
)
AT = datetime(2026, 6, 1, 12, tzinfo=UTC)
WRITING = Writing("lead", AT)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return case_folder(tmp_path_factory.mktemp("case"))


@pytest.fixture
def ledger(tmp_path: Path, folder: Path) -> Programme:
    """A ledger that has issued the record of one case."""
    made = programme_in(tmp_path / "home")
    _issue(folder, made, tmp_path, BRAZED)
    return made


def _issue(folder: Path, programme: Programme, tmp_path: Path, as_of: date) -> Issued:
    return issue_case(folder, programme, as_of=as_of, out=tmp_path / "out", at=AT)


def _doubt(programme: Programme, since: date = date(2026, 1, 5), name: str = "CAL-2") -> str:
    doubt = raise_doubt(
        name, programme.log, since=since, found_on=FOUND, reason="long", writing=WRITING
    )
    return doubt.id


def _acts(issued: Issued) -> list[dict[str, Any]]:
    parts = parts_of(inspected(issued.path.read_bytes(), ""), "")
    found: list[dict[str, Any]] = parts.data["acts"]
    return found


def test_a_doubt_of_the_programme_holds_the_case(
    folder: Path, ledger: Programme, tmp_path: Path
) -> None:
    _doubt(ledger)
    with pytest.raises(CaseOpen) as refused:
        _issue(folder, ledger, tmp_path, LATER)
    assert "CAL-2" in str(refused.value)


def test_a_day_before_the_finding_passes_over_nothing(
    folder: Path, ledger: Programme, tmp_path: Path
) -> None:
    _doubt(ledger)
    with pytest.raises(CaseHasLater) as refused:
        _issue(folder, ledger, tmp_path, BRAZED)
    assert f"{FOUND} or later" in str(refused.value)


def test_a_doubt_that_reaches_no_figure_changes_nothing(
    folder: Path, ledger: Programme, tmp_path: Path
) -> None:
    first = _issue(folder, ledger, tmp_path, BRAZED).path.read_bytes()
    _doubt(ledger, since=date(2026, 4, 30))
    for day in (BRAZED, LATER):
        again = _issue(folder, ledger, tmp_path, day)
        assert (again.again, again.path.read_bytes()) == ("yes", first)


def test_a_new_calibration_alone_gives_no_new_revision(
    folder: Path, ledger: Programme, tmp_path: Path
) -> None:
    filing = Filing("CAL-2", "calliper", "0.0005 in", FOUND, date(2027, 5, 4))
    file_instrument(filing, ledger.log, ledger.files, writing=WRITING, on=FOUND)
    assert _issue(folder, ledger, tmp_path, LATER).again == "yes"


def test_the_doubt_is_attached_and_verify_judges_from_the_attached_acts_alone(
    folder: Path, ledger: Programme, tmp_path: Path
) -> None:
    id_ = _doubt(ledger)
    clear_doubt(id_, ledger.log, on=CLEARED, reason="too small", writing=WRITING)
    made = _issue(folder, ledger, tmp_path, LATER)
    assert (made.again, made.revision) == ("no", "2")
    wide = [a["type"] for a in _acts(made) if a["stream"] == STREAM]
    assert wide == ["DoubtRaised", "DoubtCleared"]
    trust = tmp_path / "home" / "keys" / "trust.pem"
    report = verify_file(made.path, [trust])
    assert report.outcome is Outcome.MET, list(report.lines())
    parts = parts_of(inspected(made.path.read_bytes(), ""), "")
    rules = [f for f in judge_again(parts).judgement.findings if f.rule == "instrument.doubted"]
    assert {f.outcome for f in rules} == {Outcome.MET}
    held = judge_again(parts, as_of=FOUND).judgement.verdict
    assert held.outcome is Outcome.UNDETERMINED


def test_a_voided_doubt_holds_nothing_and_is_not_attached(
    folder: Path, ledger: Programme, tmp_path: Path
) -> None:
    _doubt(ledger)
    (raised,) = [e.act for e in ledger.log.entries(stream=STREAM)]
    body = {"voids": raised.sha256, "reason": "another calliper", "by": "lead"}
    ledger.log.append([Act("ActVoided", body, LATER, "lead", AT, stream=STREAM)])
    assert _issue(folder, ledger, tmp_path, LATER).again == "yes"


def test_a_corrected_doubt_is_judged_as_corrected(
    folder: Path, ledger: Programme, tmp_path: Path
) -> None:
    _doubt(ledger)
    (raised,) = [e.act for e in ledger.log.entries(stream=STREAM)]
    said = {**raised.body, "since": "2026-04-30"}
    body = {"corrects": raised.sha256, "body": said, "reason": "checked later", "by": "lead"}
    ledger.log.append([Act("ActCorrected", body, LATER, "lead", AT, stream=STREAM)])
    assert _issue(folder, ledger, tmp_path, LATER).again == "yes"
    held = read_judged(ledger.log, "TST-01", as_of=LATER)
    assert [a.type for a in held.judged[-2:]] == ["DoubtRaised", "ActCorrected"]
    assert read_judged(ledger.log, "TST-01", as_of=BRAZED).judged == held.standing


def test_entries_about_other_things_are_never_attached(folder: Path, ledger: Programme) -> None:
    at, by = AT, "lead"
    file_instrument(
        Filing("CAL-7", "calliper", "0.0005 in", FOUND, LATER),
        ledger.log,
        ledger.files,
        writing=WRITING,
        on=FOUND,
    )
    _doubt(ledger, name="CAL-7")
    noted = {"person": "ines", "kind": "installer", "issuer": "x", "until": "2027-01-01"}
    tick = {"rule": "x/1/y", "figure": "1", "copy": "own copy", "by": by}
    ledger.log.append(
        [
            Act("CredentialNoted", noted, FOUND, by, at, stream=STREAM),
            Act("RuleConfirmed", tick, FOUND, by, at, stream=STREAM),
        ]
    )
    own = read_case(ledger.log, "TST-01").standing
    assert [a.type for a in bearing_acts(ledger.log, own)] == ["RuleConfirmed"]


def test_a_rule_that_the_programme_confirms_counts_for_its_cases(
    tmp_path: Path, folder: Path
) -> None:
    """The very ticks of the case's booklet, filed for the programme instead."""
    made = programme_in(tmp_path / "other")
    bare = case_folder(tmp_path, number="TST-02")
    text = (bare / "case.yaml").read_text("utf-8")
    lines = [line for line in text.splitlines() if "booklet:" not in line]
    (bare / "case.yaml").write_text("\n".join(lines) + "\n", "utf-8")
    with pytest.raises(CaseOpen):
        _issue(bare, made, tmp_path, LATER)
    lent = programme_in(tmp_path / "lent")
    _issue(folder, lent, tmp_path, BRAZED)
    ticks = [a for a in read_case(lent.log, "TST-01").standing if a.type == "RuleConfirmed"]
    version = ACT_TYPES["RuleConfirmed"][0]
    made.log.append(
        [
            Act(a.type, a.body, a.happened_on, "lead", AT, version=version, stream=STREAM)
            for a in ticks
        ]
    )
    issued = _issue(bare, made, tmp_path, LATER)
    assert issued.again == "no"
    attached = [a["body"]["rule"] for a in _acts(issued) if a["stream"] == STREAM]
    assert sorted(attached) == sorted(json.loads(a.to_bytes())["body"]["rule"] for a in ticks)
    report = verify_file(issued.path, [tmp_path / "other" / "keys" / "trust.pem"])
    assert report.outcome is Outcome.MET, list(report.lines())
