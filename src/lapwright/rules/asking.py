"""Ask every adopted edition one question and put the answers together.

Each edition that states the rule answers alone. Equal answers are one finding
with every citation; an edition that leaves the question open keeps it open;
where one edition refuses and another does not, the finding is a conflict that
shows both and names the stricter to act on. A rule that no adopted edition
states, or whose text nobody has read, answers ``unread``; an input that is
missing answers ``needs-data`` and names the field. Nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from lapwright.core.citations import Citation
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why, settled

from .rulebook import Adopted, Rule


@dataclass(frozen=True)
class Ruling:
    """What one edition's rule says on the inputs; ``why`` only when it stays open."""

    outcome: Outcome
    message: Message
    why: Why | None = None
    observed: str = ""
    limit: str = ""


@dataclass(frozen=True)
class Question:
    """One rule asked about one subject under the adopted editions.

    ``also`` names further rules that the answer leans on; their citations
    stand beside the first one's.
    """

    rule: str
    subject: Subject
    adopted: Adopted
    also: tuple[str, ...] = ()

    def answer(self, judge: Callable[[Rule], Ruling], *, across: tuple[str, ...] = ()) -> Finding:
        """Judge under each edition that states the rule and combine the answers.

        Parameters
        ----------
        judge : callable
            Takes a rule whose value is known, returns its `Ruling`.
        across : tuple of str, optional
            Further rules that answer the same question and are judged beside it.
        """
        rules = [r for i in (self.rule, *across) for r in self.adopted.all(i)]
        if not rules:
            return self.no_text()
        answers = [(r, self._ruled(r, judge)) for r in rules]
        return _together(self, answers)

    def open(self, why: Why, message: Message, *, observed: str = "") -> Finding:
        """Return an open finding with this question's citations."""
        return settled(
            self.rule,
            self.subject,
            Outcome.UNDETERMINED,
            message,
            cites=self.cites(),
            why=why,
            observed=observed,
        )

    def hold(self, message: Message, *, observed: str = "") -> Finding:
        """Return an open finding that a person must decide."""
        return self.open(Why.HOLD, message, observed=observed)

    def needs(self, message: Message, *, observed: str = "") -> Finding:
        """Return an open finding that waits for data."""
        return self.open(Why.NEEDS_DATA, message, observed=observed)

    def no_text(self) -> Finding:
        """Return the answer of a rule that no adopted edition states in known words."""
        return self.open(
            Why.UNREAD, Message("rules.no_text", subject=str(self.subject), rule=self.rule)
        )

    def missing(self, field: str) -> Finding:
        """Return ``needs-data`` that names the missing field."""
        return self.needs(
            Message("rules.missing", subject=str(self.subject), field=field, rule=self.rule)
        )

    def lacks(self, **given: object) -> Finding | None:
        """Return ``needs-data`` for the first input that is None or empty, else None."""
        for field, value in given.items():
            if value is None or value == "" or value == ():
                return self.missing(field)
        return None

    def unclear(self, field: str, got: str, known: Sequence[str]) -> Finding | None:
        """Return ``needs-data`` for a word that is missing or not one of ``known``."""
        if not got:
            return self.missing(field)
        if got in known:
            return None
        return self.needs(
            Message(
                "rules.word",
                subject=str(self.subject),
                field=field,
                got=got,
                known=", ".join(known),
            ),
            observed=got,
        )

    def cites(self) -> tuple[Citation, ...]:
        """Return the citations of the rule and of those it leans on, each once."""
        return self.adopted.cites(self.rule, self.also)

    def _ruled(self, rule: Rule, judge: Callable[[Rule], Ruling]) -> Ruling:
        if rule.value is not None:
            return judge(rule)
        return Ruling(Outcome.UNDETERMINED, self.no_text().message, Why.UNREAD)


def held_until_confirmed(finding: Finding) -> Finding:
    """Turn an answer that waits for a confirmation into a hold; ``computed`` stays.

    For figures where another reading of the rule would give another answer:
    a person must decide, not only tick.
    """
    if finding.why is Why.UNCONFIRMED and finding.computed is Outcome.MET:
        return replace(finding, why=Why.HOLD)
    return finding


def _together(question: Question, answers: Sequence[tuple[Rule, Ruling]]) -> Finding:
    outcomes = {ruling.outcome for _, ruling in answers}
    if Outcome.NOT_MET in outcomes and len(outcomes) > 1:
        return _conflict(question, answers)
    open_ones = [ruling for _, ruling in answers if ruling.outcome is Outcome.UNDETERMINED]
    told = (open_ones or [ruling for _, ruling in answers])[0]
    return settled(
        question.rule,
        question.subject,
        told.outcome,
        told.message,
        cites=question.cites(),
        why=told.why,
        observed=told.observed,
        limit=told.limit,
    )


def _conflict(question: Question, answers: Sequence[tuple[Rule, Ruling]]) -> Finding:
    shown = "; ".join(
        f"{rule.cite}: {ruling.why.value if ruling.why else ruling.outcome.value}"
        for rule, ruling in answers
    )
    return settled(
        question.rule,
        question.subject,
        Outcome.UNDETERMINED,
        Message("rules.differ", subject=str(question.subject), answers=shown),
        cites=question.cites(),
        why=Why.CONFLICT,
        act_on=Outcome.NOT_MET,
        observed=answers[0][1].observed,
        limit=answers[0][1].limit,
    )
