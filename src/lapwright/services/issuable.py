"""Whether a judged case may become a record: everything decided, papers met, something passed."""

from __future__ import annotations

from lapwright.core.outcomes import Outcome, Verdict, Why

from .errors import CaseOpen, NothingQualified, PapersNotMet
from .judging import JudgedCase
from .text import outcome_word, say_of, word


def must_be_decided(case: JudgedCase) -> None:
    """Refuse a case with papers that are not met, an open question, or nothing that passed.

    Raises
    ------
    PapersNotMet, CaseOpen, NothingQualified
    """
    judgement = case.judged.judgement
    if judgement.case.outcome is Outcome.NOT_MET:
        raise _not_met(case, judgement.case)
    waiting = [p.verdict for p in judgement.positions if p.verdict.outcome is Outcome.UNDETERMINED]
    if waiting or judgement.case.outcome is not Outcome.MET:
        raise _still_open(case, [judgement.case, *waiting])
    if not judgement.qualified:
        raise NothingQualified(
            "no flow position passed, so there is nothing to record",
            where=case.loaded.id,
            got=outcome_word(judgement.verdict.outcome),
            expected="at least one flow position met",
            do="See 'lapwright judge' for the findings; a retest is a new round in the same case.",
        )


def _not_met(case: JudgedCase, papers: Verdict) -> PapersNotMet:
    """Return the refusal with the first paper that is not met, with what it is about."""
    rows = [f for f in papers.findings if f.outcome is Outcome.NOT_MET]
    return PapersNotMet(
        "the procedure or the papers of the case are not met, so no record is issued",
        where=case.loaded.id,
        got=f"{outcome_word(Outcome.NOT_MET)}, {len(rows)} in all",
        expected="papers met, whatever the faces say",
        do=say_of(rows[0]),
    )


def _still_open(case: JudgedCase, verdicts: list[Verdict]) -> CaseOpen:
    """Return the refusal with the finding that most needs a person, or the booklet to confirm."""
    rows = [f for v in verdicts for f in v.findings if f.outcome is not Outcome.MET]
    real = [f for f in rows if f.why is not Why.UNCONFIRMED]
    if real:
        do = say_of(real[0])
    else:
        day = case.judged.judgement.evidence.as_of.isoformat()
        do = word("issue.confirm", case=case.loaded.id, day=day)
    worst = real[0] if real else rows[0]
    return CaseOpen(
        "not everything is decided and met, so no record is issued",
        where=case.loaded.id,
        got=f"{outcome_word(worst.outcome, worst.why)}, {len(rows)} in all",
        expected="papers met and every flow position decided",
        do=do,
    )
