"""The single questions of cover: each variable of a joint class against one passed joint.

The rules are those of the range (`ranges`, `thickness`, `joblist`); here each is asked by what
it hangs on, so that an answer is worked out once for equal values.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial

from lapwright.core.evidence import Pqr
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity, length

from .coverparts import Group, JointClass, Lack, cup_of
from .joblist import judge_by_table
from .positions import Tested, judge_position
from .procedure import judge_unequal_walls
from .ranges import (
    DEMANDS,
    TestedJoint,
    judge_cup_floor,
    judge_demand,
    judge_overlap,
    judge_p_numbers,
)
from .thickness import RULE as BANDS
from .thickness import judge_thickness, range_of_wall


@dataclass(frozen=True)
class Variable:
    """One question: what it hangs on in the class and in the test, and its findings.

    ``of_test`` and ``judge`` take the group and the passed joint, or the procedure's record.
    ``rank`` is given where the answer only gets worse, or only better, with a figure of the
    class: classes of equal first part are then asked by halving, in order of the second.
    """

    name: str
    of_class: Callable[[JointClass], Hashable]
    of_test: Callable[..., Hashable]
    judge: Callable[..., Sequence[Finding]]
    rank: Callable[[JointClass], tuple[Hashable, Fraction]] | None = None


def lack_of(finding: Finding, group: Group, test: object, about: JointClass) -> Lack | None:
    """Return what a finding says is missing, or ``None`` where nothing is refused.

    Parameters
    ----------
    finding : Finding
        One answer of a variable.
    group : Group
        The joints that passed together.
    test : TestedJoint or Pqr
        What it was asked against.
    about : JointClass
        The class.
    """
    refused = (finding.before_confirmation, finding.act_on)
    if Outcome.NOT_MET not in refused:
        return None
    if finding.rule == "overlap.max_increase" and finding.limit:
        asked, ceiling = length(finding.observed), length(finding.limit.split(" ", 1)[1])
        return Lack(finding, asked.base / ceiling.base - 1)
    if finding.rule == "overlap.procedure_floor" and finding.limit:
        asked, floor = length(finding.observed), length(finding.limit.split(" ", 1)[1])
        return Lack(finding, floor.base / asked.base - 1)
    if finding.rule == BANDS and isinstance(test, TestedJoint):
        return Lack(finding, _wall_excess(group, test, about))
    return Lack(finding)


def _wall_excess(group: Group, test: TestedJoint, about: JointClass) -> Fraction:
    """Return how far the worst known wall lies outside the range of the coupon's tube wall."""
    rules = [r for r in group.held.adopted.all(BANDS) if r.value is not None]
    if test.walls.tube is None or not rules:
        return Fraction(0)
    span, walls = range_of_wall(test.walls.tube, rules[0]), group.walls(about)
    known = [w for w in (walls.tube, walls.fitting) if w is not None]
    return max((_outside(w, span.low, span.high) for w in known), default=Fraction(0))


def _outside(wall: Quantity, low: Quantity, high: Quantity) -> Fraction:
    return max(low.base / wall.base - 1, wall.base / high.base - 1, Fraction(0))


def _subject(about: JointClass) -> Subject:
    return Subject("joint", about.id)


def _demand(rule: str, attr: str, group: Group, test: object, about: JointClass) -> list[Finding]:
    held, asked = getattr(test, attr), getattr(about, attr)
    return [judge_demand(rule, _subject(about), held, asked, adopted=group.held.adopted)]


def _demanded(rule: str, attr: str) -> Variable:
    return Variable(
        f"{rule}:{attr}",
        lambda about: getattr(about, attr),
        lambda group, test: getattr(test, attr),
        partial(_demand, rule, attr),
    )


def _p_numbers(group: Group, test: TestedJoint, about: JointClass) -> list[Finding]:
    job = group.job(about)
    own = judge_p_numbers(_subject(about), group.held.tests, job, adopted=group.held.adopted)
    if own.before_confirmation is not Outcome.NOT_MET:
        return [own]
    return [judge_p_numbers(_subject(about), group.pool, job, adopted=group.held.adopted)]


def _position(group: Group, test: TestedJoint | Pqr, about: JointClass) -> list[Finding]:
    letters = test.positions if isinstance(test, Pqr) else (test.position,)
    return [
        judge_position(
            Tested(about.position),
            [Tested(letter) for letter in letters],
            subject=_subject(about),
            adopted=group.held.adopted,
        )
    ]


def _thickness(group: Group, test: TestedJoint, about: JointClass) -> list[Finding]:
    readings, adopted = group.held.basis.thickness_readings, group.held.adopted
    walls = group.walls(about)
    return [judge_thickness(_subject(about), test.walls, walls, readings=readings, adopted=adopted)]


def _overlap(group: Group, test: TestedJoint, about: JointClass) -> list[Finding]:
    low, high = cup_of(about, group.allowance)
    adopted = group.held.adopted
    return [judge_overlap(_subject(about), test.overlap, low, high, adopted=adopted)]


def _table(group: Group, test: TestedJoint, about: JointClass) -> list[Finding]:
    held = group.held
    return judge_by_table(test, held.basis, about.id, about.size, adopted=held.adopted)


def _floor(group: Group, record: Pqr, about: JointClass) -> list[Finding]:
    overlaps = [record.overlap] if record.overlap is not None else []
    low, high = cup_of(about, group.allowance)
    adopted = group.held.adopted
    return [judge_cup_floor(_subject(about), overlaps, low, high, adopted=adopted)]


def _record_walls(group: Group, record: Pqr, about: JointClass) -> list[Finding]:
    walls, qualified = group.walls(about), (record.tube_wall, record.fitting_wall)
    asked = (walls.tube, walls.fitting)
    return [judge_unequal_walls(_subject(about), qualified, asked, adopted=group.held.adopted)]


def _by_depth(about: JointClass) -> tuple[Hashable, Fraction]:
    """Order classes by their overlap: measured ones apart from those that a table bounds."""
    known = about.overlap or about.cup_least
    kind = "measured" if about.overlap is not None else "table" if known is not None else ""
    return kind, known.base if known is not None else Fraction(0)


def _of_walls(group: Group, test: TestedJoint) -> Hashable:
    return test.walls, group.held.basis.thickness_readings, _of_tables(group)


def _of_tables(group: Group) -> Hashable:
    return tuple((t.id, t.coupon_kind, t.adopted_on) for t in group.timely)


def _of_table(group: Group, test: TestedJoint) -> Hashable:
    tables = tuple((t.id, t.adopted_on, t.sizes) for t in group.held.basis.range_tables)
    return tables and (tables, test.coupon_kind, test.looked_on)


PER_TEST: tuple[Variable, ...] = (
    *(_demanded(rule, attr) for rule, attr in DEMANDS),
    Variable(
        "variable.p_number",
        lambda about: (about.p_numbers, about.f_number, about.flux, about.process),
        lambda group, test: (group.pool_key, group.own_key),
        _p_numbers,
    ),
    Variable("position", lambda a: a.position, lambda group, test: test.position, _position),
    Variable("thickness", lambda a: a.walls_key, _of_walls, _thickness),
    Variable(
        "overlap",
        lambda a: a.cup_key,
        lambda group, test: (test.overlap, group.allowance),
        _overlap,
        _by_depth,
    ),
    Variable("table", lambda a: a.size, _of_table, _table),
)
PER_RECORD: tuple[Variable, ...] = (
    Variable(
        "floor",
        lambda a: a.cup_key,
        lambda g, r: (r.overlap, g.allowance),
        _floor,
        _by_depth,
    ),
    Variable(
        "record_walls",
        lambda a: a.walls_key,
        lambda g, r: (r.tube_wall, r.fitting_wall, _of_tables(g)),
        _record_walls,
    ),
    Variable("record_position", lambda a: a.position, lambda g, r: r.positions, _position),
    _demanded("variable.f_number", "f_number"),
    _demanded("variable.product_form", "form"),
)
