"""Names and record numbers in a comparison's sentences, and the rules that it leaves open.

Findings carry ids, as acts do. People read names: a brazer's stands in the former employer's
papers, that of who states or files something in the new employer's, either in the ledger.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Why
from lapwright.ledger.log import Log
from lapwright.rules.rulebook import Adopted, Rule

from .programme import name_in

_FORMER, _PRESENT = ("person", "brazed_by"), ("by", "typed_by")


@dataclass(frozen=True)
class Names:
    """Names behind ids on both sides, and the number of the record where it has one."""

    former: Mapping[str, str] = field(default_factory=dict)
    present: Mapping[str, str] = field(default_factory=dict)
    log: Log | None = None
    record: str = ""
    number: str = ""

    def brazer(self, person: str) -> str:
        """Return the name of somebody whom the former employer's papers name."""
        return self.former.get(person) or self._kept(person) or self.present.get(person) or person

    def writer(self, person: str) -> str:
        """Return the name of somebody who writes for the new employer."""
        return self.present.get(person) or self._kept(person) or person

    def shown(self, finding: Finding) -> Finding:
        """Return a finding whose sentence holds names and the record's number."""
        before, subject = str(finding.subject), finding.subject
        if self.number and (subject.kind, subject.id) == ("record", self.record):
            subject = replace(subject, id=self.number)
        if subject.kind == "person":
            subject = replace(subject, id=self.brazer(subject.id))
        told = {key: self._said(key, value) for key, value in finding.message.params}
        if told.get("subject") == before:
            told["subject"] = str(subject)
        return replace(finding, subject=subject, message=Message(finding.message.id, **told))

    def _said(self, key: str, value: str) -> str:
        if key == "record" and value == self.record:
            return self.number or value
        if key in _FORMER:
            return self.brazer(value)
        return self.writer(value) if key in _PRESENT else value

    def _kept(self, person: str) -> str:
        name = name_in(self.log, person) if self.log is not None and person else ""
        return "" if name == person else name


def open_rules(findings: Iterable[Finding], adopted: Adopted) -> tuple[Rule, ...]:
    """Return the rules from memory that nobody has confirmed and that keep answers open.

    Parameters
    ----------
    findings : iterable of Finding
        Everything that was found.
    adopted : Adopted
        The editions with their confirmations.
    """
    waiting = [f for f in findings if f.why is Why.UNCONFIRMED]
    return tuple({r.key: r for f in waiting for r in _unconfirmed(f, adopted)}.values())


def _unconfirmed(finding: Finding, adopted: Adopted) -> Iterator[Rule]:
    """Yield the rules behind a finding's unconfirmed citations, its own rule before others."""
    own = adopted.all(finding.rule)
    asked = [r for key in sorted(adopted.used) for r in adopted.all(key.rsplit("/", 1)[-1])]
    for cite in (c for c in finding.cites if c.needs_confirming):
        found = [r for r in own if r.cite == cite]
        yield from found or (r for r in asked if r.cite == cite and r.value is not None)
