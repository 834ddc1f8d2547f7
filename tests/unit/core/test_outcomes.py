"""Three outcomes, never a bool; memory alone gives no unqualified answer."""

from __future__ import annotations

import pytest

from lapwright.core.citations import Basis, Citation
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why, combine, settled

JOINT = Subject("joint", "H1")
TOLD = Message("face.unread", face="H1")
MEMORY = Citation("x", "QB-1", Basis.MEMORY)
CONFIRMED = Citation("x", "QB-1", Basis.MEMORY, confirmed_by="lead")
READ = Citation("x", "QB-1", Basis.PRIMARY)


def _found(outcome: Outcome, why: Why | None = None, **more: object) -> Finding:
    return Finding("r", JOINT, outcome, TOLD, why, **more)  # type: ignore[arg-type]


def test_an_outcome_is_never_true_or_false() -> None:
    with pytest.raises(TypeError):
        bool(Outcome.MET)
    with pytest.raises(TypeError):
        bool(combine([]))


def test_only_an_open_finding_says_why() -> None:
    with pytest.raises(ValueError, match="says why"):
        _found(Outcome.UNDETERMINED)
    with pytest.raises(ValueError, match="says why"):
        _found(Outcome.MET, Why.HOLD)


def test_no_finding_at_all_is_open() -> None:
    assert combine([]).why is Why.NEEDS_DATA


def test_one_not_met_decides() -> None:
    verdict = combine(
        [_found(Outcome.MET), _found(Outcome.UNDETERMINED, Why.HOLD), _found(Outcome.NOT_MET)]
    )
    assert verdict.outcome is Outcome.NOT_MET


def test_an_open_finding_keeps_a_verdict_open_with_the_gravest_reason() -> None:
    verdict = combine(
        [
            _found(Outcome.MET),
            _found(Outcome.UNDETERMINED, Why.UNCONFIRMED),
            _found(Outcome.UNDETERMINED, Why.CONFLICT, act_on=Outcome.NOT_MET),
        ]
    )
    assert (verdict.outcome, verdict.why) == (Outcome.UNDETERMINED, Why.CONFLICT)
    assert verdict.act_on is Outcome.NOT_MET


@pytest.mark.parametrize("computed", [Outcome.MET, Outcome.NOT_MET])
def test_memory_alone_gives_no_unqualified_answer(computed: Outcome) -> None:
    finding = settled("r", JOINT, computed, TOLD, cites=(READ, MEMORY))
    assert (finding.outcome, finding.why) == (Outcome.UNDETERMINED, Why.UNCONFIRMED)
    assert finding.before_confirmation is computed
    assert finding.unconfirmed == (MEMORY,)


@pytest.mark.parametrize("cites", [(READ,), (CONFIRMED,), ()])
def test_a_read_or_confirmed_rule_answers(cites: tuple[Citation, ...]) -> None:
    assert settled("r", JOINT, Outcome.MET, TOLD, cites=cites).outcome is Outcome.MET
