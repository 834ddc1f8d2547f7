"""Checks of what the rule files hold of clocks and acceptance, and of corrections.

Each case asserts the figure, the operator and the scope as held; days are judged
by the checks ``inforce``. The six months are counted by dateutil, an outside
witness; which day is too late follows from the operator of the data.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from dateutil.relativedelta import relativedelta

from lapwright.core.quantities import length
from lapwright.core.times import parse_date
from lapwright.rules.ranges import overlap_ceiling
from lapwright.rules.rulebook import Adopted, Rule

BASE = ("asme-bpvc-ix", "nfpa-99")


def _own(adopted: Adopted, rule_id: str) -> dict[str, Rule]:
    """Return code -> the code's own rule."""
    return {r.code: r for r in adopted.all(rule_id) if r.code in BASE}


def _first_late_day(rule: Rule, last: date) -> date:
    number, unit = rule.value.split()
    assert unit == "months", unit
    due = last + relativedelta(months=int(number))
    return {">=": due, ">": due + timedelta(days=1)}[rule.operator]


def clock(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Say for each code the first late day after the last use that counts under its scope."""
    found: dict[str, Any] = {}
    rules, scopes = _own(adopted, "continuity.max_gap"), _own(adopted, "continuity.scope")
    for code, rule in rules.items():
        scope = scopes[code].value
        uses = [parse_date(u["on"]) for u in given["uses"] if u.get(scope, "same") == "same"]
        ends = _first_late_day(rule, max(uses))
        found[code] = ends
        found[f"{code} scope"] = scope
        found[f"{code} operator"] = rule.operator
        for day in given.get("days", ()):
            found[f"{code} {day}"] = "ended" if parse_date(day) >= ends else "in time"
    return found


def held(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Return what the data hold of one rule."""
    rule = next(r for r in adopted.all(given["rule"]) if r.code == given["code"])
    value = rule.value.get("default") if isinstance(rule.value, Mapping) else rule.value
    return {
        "value": value,
        "kind": rule.kind,
        "where": rule.cite.where,
        "title": rule.title,
        "stated": [r.code for r in adopted.all(given["rule"])],
    }


def corrected(adopted: Adopted, given: Mapping[str, Any]) -> Any:
    """Return the ceiling before and after a correction, and the joints that lose cover."""
    rule = adopted.first("overlap.max_increase")
    before, after = (overlap_ceiling(length(given[k]), rule) for k in ("was", "is"))
    lost = [j for j in given["joints"] if after < length(j) <= before]
    return {"before": before.inches, "after": after.inches, "lost": lost}


CHECKS = {
    "later.clock": clock,
    "later.held": held,
    "later.corrected": corrected,
}
