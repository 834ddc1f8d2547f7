"""Editions in force and short answers for the tests of the examination rules."""

from __future__ import annotations

from lapwright.core.outcomes import Finding, Verdict
from lapwright.core.quantities import Quantity
from published.adopting import adopted
from repo.messages import catalogue

IX = adopted(["asme-bpvc-ix 2023"])
BARE = adopted(["asme-bpvc-ix 2023"], "none")
AWS = adopted(["aws-b2.2 2016"])
BOTH = adopted(["asme-bpvc-ix 2023", "aws-b2.2 2016"])
MEDICAL = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"])
HOUSE = adopted(["programme 1"])
NONE = adopted([])
_SENTENCES = catalogue()[0]


def deg(text: str) -> Quantity:
    return Quantity.parse(f"{text} deg", "angle")


def mm(text: str) -> Quantity:
    return Quantity.parse(f"{text} mm", "length")


def inch(text: str) -> Quantity:
    return Quantity.parse(f"{text} in", "length")


def ksi(text: str) -> Quantity:
    return Quantity.parse(f"{text} ksi", "pressure")


def short(answer: Finding | Verdict) -> tuple[str, str, str]:
    """Return outcome, why and message id; every message must have its sentence."""
    why = answer.why.value if answer.why else ""
    finding = (
        answer
        if isinstance(answer, Finding)
        else next(f for f in answer.findings if f.outcome is answer.outcome)
    )
    names = {name for name, _ in finding.message.params}
    assert names == _SENTENCES[finding.message.id], finding.message
    return answer.outcome.value, why, finding.message.id


def param(finding: Finding, name: str) -> str:
    return dict(finding.message.params)[name]
