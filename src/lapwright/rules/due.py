"""When a use is due: lead times before a clock runs out (common practice, no source)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from lapwright.core.times import add_months

from .rulebook import Adopted

RULE = "continuity.lead_times"
HALF_MONTH = 15  # days; part of the same common practice


@dataclass(frozen=True)
class Lead:
    """One warning day: ``months`` after the last use that counts."""

    months: str
    on: date


def lead_days(last: date, *, adopted: Adopted) -> tuple[Lead, ...]:
    """Return the warning days after a last use, earliest first; none without the rule.

    Parameters
    ----------
    last : date
        Last use that counts.
    adopted : Adopted
        The basis with the programme's rules.
    """
    found = [Lead(m, _after(last, m)) for r in adopted.all(RULE) for m in (r.value or ())]
    return tuple(sorted(found, key=lambda lead: lead.on))


def _after(last: date, months: str) -> date:
    exact = Fraction(Decimal(months))
    whole = int(exact)
    return add_months(last, whole) + timedelta(days=HALF_MONTH if exact > whole else 0)
