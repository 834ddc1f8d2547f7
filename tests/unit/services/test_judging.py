"""Judging by what was known on a day."""

from __future__ import annotations

from datetime import UTC, date, datetime

from lapwright.core.acts import Act
from lapwright.services.judging import judge_acts


def test_only_what_was_written_by_the_day_is_judged() -> None:
    on = date(2026, 3, 4)
    body = {"editions": ["asme-bpvc-ix 2023", "programme 1"], "decision_rule": "simple"}
    basis = Act("BasisAdopted", body, on, "lead", datetime(2026, 3, 4, 12, tzinfo=UTC))
    trained = {"person": "ines", "what": "purge"}
    late = Act("TrainingGiven", trained, on, "lead", datetime(2026, 3, 9, 12, tzinfo=UTC))
    by_then = judge_acts([basis, late], as_of=on, known_by=date(2026, 3, 8)).judgement.evidence
    today = judge_acts([basis, late], as_of=on).judgement.evidence
    assert (by_then.known_by, by_then.trainings) == (date(2026, 3, 8), ())
    assert [t.what for t in today.trainings] == ["purge"]
