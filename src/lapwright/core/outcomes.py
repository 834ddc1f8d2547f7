"""Outcomes, findings and verdicts: three values, never a bool.

``MET``, ``NOT_MET`` or ``UNDETERMINED``; the last always says why. A rule that
rests on memory alone gives nobody an unqualified answer until a named person
has confirmed it: `settled` turns such an answer into ``UNDETERMINED`` with the
reason ``unconfirmed`` and keeps what the rule computed beside it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import Enum
from typing import NoReturn

from .citations import Citation
from .messages import Message


class Outcome(Enum):
    """The three answers of a judgement; truth testing is refused."""

    MET = "met"
    NOT_MET = "not-met"
    UNDETERMINED = "undetermined"

    def __bool__(self) -> NoReturn:
        raise TypeError("an Outcome is not a yes or no: compare it with Outcome.MET")


class Why(Enum):
    """Why a judgement is open; listed from the gravest for the reader downwards."""

    CONFLICT = "conflict"
    HOLD = "hold"
    NEEDS_DATA = "needs-data"
    UNREAD = "unread"
    UNCONFIRMED = "unconfirmed"


@dataclass(frozen=True)
class Subject:
    """What a finding is about: ``kind`` (person, coupon, joint, face, record, ...) and id."""

    kind: str
    id: str

    def __str__(self) -> str:
        return f"{self.kind} {self.id}".strip()


@dataclass(frozen=True)
class Finding:
    """One rule's outcome on one subject.

    ``computed`` is the answer before the confirmation of the rule was asked
    for; ``act_on`` names the stricter answer when ``why`` is ``CONFLICT``.
    """

    rule: str
    subject: Subject
    outcome: Outcome
    message: Message
    why: Why | None = None
    observed: str = ""
    limit: str = ""
    cites: tuple[Citation, ...] = ()
    computed: Outcome | None = None
    act_on: Outcome | None = None

    def __post_init__(self) -> None:
        if (self.outcome is Outcome.UNDETERMINED) != (self.why is not None):
            raise ValueError(f"{self.rule}: UNDETERMINED, and only it, says why")

    @property
    def before_confirmation(self) -> Outcome:
        """The answer that would stand if every rule it leans on were confirmed."""
        return self.outcome if self.computed is None else self.computed

    @property
    def unconfirmed(self) -> tuple[Citation, ...]:
        """Citations of this finding that rest on memory and nobody has confirmed."""
        return tuple(c for c in self.cites if c.needs_confirming)


@dataclass(frozen=True)
class Verdict:
    """The combined outcome of findings, with every finding kept."""

    outcome: Outcome
    findings: tuple[Finding, ...]
    why: Why | None = None
    computed: Outcome | None = None
    act_on: Outcome | None = None
    notes: tuple[Message, ...] = field(default=())

    @property
    def before_confirmation(self) -> Outcome:
        """The answer that would stand if every rule it leans on were confirmed."""
        return self.outcome if self.computed is None else self.computed

    def __bool__(self) -> NoReturn:
        raise TypeError("a Verdict is not a yes or no: read its outcome")


def combine(findings: Iterable[Finding]) -> Verdict:
    """Combine findings: one ``NOT_MET`` decides, then any open one, else ``MET``.

    No finding at all is ``UNDETERMINED`` (``needs-data``): silence never passes.
    ``computed`` is the answer that would stand if every unconfirmed rule of
    the findings were confirmed.
    """
    kept = tuple(findings)
    if not kept:
        return Verdict(Outcome.UNDETERMINED, (), why=Why.NEEDS_DATA)
    computed = _worst([f.before_confirmation for f in kept])
    outcome = _worst([f.outcome for f in kept])
    why = None
    act_on = None
    if outcome is Outcome.UNDETERMINED:
        reasons = {f.why for f in kept if f.outcome is Outcome.UNDETERMINED}
        why = next(w for w in Why if w in reasons)
        act_on = Outcome.NOT_MET if any(f.act_on is Outcome.NOT_MET for f in kept) else None
    return Verdict(outcome, kept, why=why, computed=computed, act_on=act_on)


def settled(
    rule: str,
    subject: Subject,
    computed: Outcome,
    message: Message,
    *,
    cites: tuple[Citation, ...] = (),
    why: Why | None = None,
    observed: str = "",
    limit: str = "",
    act_on: Outcome | None = None,
) -> Finding:
    """Make a finding; an answer resting on unconfirmed memory becomes open (K-05).

    ``cites`` are the rules the answer leans on. With every one of them
    confirmed or read, ``computed`` stands.
    """
    outcome = computed
    if computed is not Outcome.UNDETERMINED and any(c.needs_confirming for c in cites):
        outcome, why = Outcome.UNDETERMINED, Why.UNCONFIRMED
    return Finding(
        rule=rule,
        subject=subject,
        outcome=outcome,
        why=why,
        message=message,
        observed=observed,
        limit=limit,
        cites=cites,
        computed=computed,
        act_on=act_on,
    )


def _worst(outcomes: list[Outcome]) -> Outcome:
    for worst in (Outcome.NOT_MET, Outcome.UNDETERMINED):
        if worst in outcomes:
            return worst
    return Outcome.MET
