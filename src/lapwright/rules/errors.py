"""Refusals of the rule engine (prefix RULE)."""

from __future__ import annotations

from lapwright.core.errors import LapwrightError


class RuleFileRefused(LapwrightError):
    """A rule or edition file that does not fit the published form."""

    code = "RULE-001"


class EditionUnknown(LapwrightError):
    """A code or an edition that is not in the rule library; there is no default edition."""

    code = "RULE-002"


class RuleUnknown(LapwrightError):
    """A rule id that no adopted edition holds."""

    code = "RULE-003"


class ReadingUnknown(LapwrightError):
    """A choice of the basis (decision rule, thickness reading, option) that does not exist."""

    code = "RULE-004"
