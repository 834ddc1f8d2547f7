"""Finished production joints: what refuses one, and whether it may be repaired.

NFPA 99, joints of medical-gas piping (5.1.10.4; paragraphs per edition as the
rule files say): seven conditions, each with repair or replacement, and one
repair only. A specification of another trade that allows two does not govern.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .rulebook import Adopted, Rule
from .rulings import held, met, not_met


@dataclass(frozen=True)
class RefusedJoint:
    """A joint with an unacceptable condition: its number in the list, repairs made so far."""

    joint: str
    condition: str
    repairs: int | None


@dataclass(frozen=True)
class Remedy:
    """What follows: ``repair``, ``cut-out`` or empty while open, with its finding."""

    action: str
    finding: Finding


def may_repair(given: RefusedJoint, *, adopted: Adopted) -> Remedy:
    """Say whether a refused joint may be repaired or is cut out.

    Parameters
    ----------
    given : RefusedJoint
        Joint, condition and number of repairs so far.
    adopted : Adopted
        The adopted editions.

    Returns
    -------
    Remedy
        Met means that the repair is allowed, not that the joint is sound.
    """
    ask = Question(
        "production.conditions",
        Subject("joint", given.joint),
        adopted,
        also=("production.max_repairs",),
    )
    missing = ask.lacks(condition=given.condition, repairs=given.repairs)
    if missing is not None or given.repairs is None:
        return Remedy("", missing or ask.missing("repairs"))
    repairs = given.repairs
    most = _most_repairs(adopted)
    finding = ask.answer(lambda rule: _remedy(rule, given.condition, repairs, most))
    action = {Outcome.MET: "repair", Outcome.NOT_MET: "cut-out", Outcome.UNDETERMINED: ""}
    return Remedy(action[finding.before_confirmation], finding)


def _most_repairs(adopted: Adopted) -> int | None:
    known = [int(r.value) for r in adopted.all("production.max_repairs") if r.value is not None]
    return min(known) if known else None


def _remedy(rule: Rule, condition: str, repairs: int, most: int | None) -> Ruling:
    row = rule.value.get(condition)
    if row is None or most is None:
        return held("production.unknown", condition=condition, known=", ".join(rule.value))
    shown = {"condition": row["condition"], "repairs": str(repairs), "most": str(most)}
    if row["consequence"] == "replace":
        return not_met("production.replace", saw=row["condition"], **shown)
    if repairs >= most:
        return not_met("production.repaired_before", saw=str(repairs), bound=f"< {most}", **shown)
    return met("production.repair", saw=str(repairs), bound=f"< {most}", **shown)


def pressure_of_test(operating: Quantity, *, adopted: Adopted) -> Quantity:
    """Return the pressure of the initial pressure test, also after a joint was replaced.

    Parameters
    ----------
    operating : Quantity
        Operating pressure of the line.
    adopted : Adopted
        The adopted editions: a factor on operating pressure, and a least pressure.

    Raises
    ------
    RuleUnknown
        If no adopted edition states factor and least pressure.
    """
    least = Quantity.parse(adopted.first("test.min_pressure").value, "pressure")
    return max(operating.times(Decimal(adopted.first("test.pressure_factor").value)), least)
