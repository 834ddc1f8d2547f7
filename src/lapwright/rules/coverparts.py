"""What cover is judged on: classes of job joints, and qualifications with what holds on the day.

A class are the joints that no rule tells apart, so that splitting or merging equal rows of a
joint list changes nothing. A qualification is one record (or case) of one person, with the
passed joints behind it and the findings that hold for the whole of it on the day asked about:
in force, certified by the employer, not withdrawn, not doubted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from lapwright.core.evidence import Basis, Pqr, Procedure, RangeTable
from lapwright.core.outcomes import Finding, Outcome, Verdict
from lapwright.core.quantities import Quantity, inches, length

from .joblist import adopted_wall, late_table
from .ranges import JobJoint, TestedJoint
from .rulebook import Adopted
from .thickness import JobWalls

MET, OPEN, STRICT, FAILED = range(4)  # states of a cell, best first


@dataclass(frozen=True)
class JointClass:
    """Job joints that no rule tells apart: one line of the matrix.

    ``overlap`` is measured or ``None``; ``cup_least`` is the table's least depth, which may
    refuse a joint and never covers one. ``fitting_wall`` is measured or ``None``; a range table
    of the basis may give it. ``procedure`` names the one the joint is to be brazed by, empty
    where the list names none. ``count`` joints stand behind it.
    """

    id: str
    size: str
    tube: str
    tube_type: str
    fitting: str
    position: str
    p_numbers: tuple[str, str]
    filler: str
    f_number: str
    overlap: Quantity | None
    cup_least: Quantity | None
    tube_wall: Quantity | None
    tube_minimum: Quantity | None = None
    fitting_wall: Quantity | None = None
    stand_ins: Mapping[str, Quantity] = field(default_factory=dict)
    process: str = "TB"
    manner: str = "manual"
    form: str = "rod"
    joint_type: str = "socket"
    flux: str = "none"
    procedure: str = ""
    count: int = 1

    @cached_property
    def walls_key(self) -> tuple[object, ...]:
        """What the thickness question hangs on."""
        others = tuple(sorted((name, wall.text) for name, wall in self.stand_ins.items()))
        own = (_text(self.tube_wall), _text(self.tube_minimum), _text(self.fitting_wall))
        return (*own, others, self.fitting, self.size)

    @cached_property
    def cup_key(self) -> tuple[str, str]:
        """What the overlap questions hang on."""
        return _text(self.overlap), _text(self.cup_least)


@dataclass(frozen=True)
class HeldOn:
    """One qualification of one person on one day.

    ``tests`` are the passed joints; ``gates`` what holds for the whole of it on that day, by
    flow position (a doubt may reach one position only): in force, certified, not withdrawn.
    """

    id: str
    person: str
    tests: tuple[TestedJoint, ...]
    basis: Basis
    procedure: Procedure | None
    adopted: Adopted
    gates: Mapping[str, tuple[Finding, ...]]

    def gate(self, position: str) -> int:
        """Return the state that the gate of a flow position allows; silence never passes."""
        return max((state_of(f) for f in self.gates.get(position, ())), default=OPEN)


@dataclass(frozen=True, eq=False)
class Group:
    """Joints that passed together, with the whole qualification they belong to.

    ``alike`` are its joints with the smallest overlap; ``pool`` the passed joints that the
    person may combine for two base metals.
    """

    held: HeldOn
    alike: tuple[TestedJoint, ...]
    pool: tuple[TestedJoint, ...]

    @cached_property
    def gate(self) -> tuple[Finding, ...]:
        """What holds for the whole of it on the day: all of a group have one flow position."""
        return self.held.gates.get(self.alike[0].position, ())

    @cached_property
    def state(self) -> int:
        """The state that the gate alone allows."""
        return self.held.gate(self.alike[0].position)

    @cached_property
    def tables(self) -> tuple[RangeTable, ...]:
        """The adopted range tables that speak of this coupon kind."""
        kinds = {t.coupon_kind for t in self.held.tests}
        return tuple(t for t in self.held.basis.range_tables if t.coupon_kind in kinds)

    @cached_property
    def timely(self) -> tuple[RangeTable, ...]:
        """Those that were adopted before anything of this qualification was looked at."""
        late = late_table
        return tuple(t for t in self.tables if not any(late(t, j) for j in self.held.tests))

    @cached_property
    def pool_key(self) -> frozenset[tuple[object, ...]]:
        """What the base-metal question hangs on, of all that the person may combine."""
        return _metals(self.pool)

    @cached_property
    def own_key(self) -> frozenset[tuple[object, ...]]:
        """What it hangs on, of this qualification."""
        return _metals(self.held.tests)

    @cached_property
    def allowance(self) -> str:
        """How much deeper than its least depth a real cup may be, as the basis says."""
        return self.held.basis.option("cup_allowance")

    def job(self, about: JointClass) -> JobJoint:
        """Return a class as the job joint that this group is asked about."""
        low, high = cup_of(about, self.allowance)
        return JobJoint(
            id=about.id,
            position=about.position,
            p_numbers=about.p_numbers,
            f_number=about.f_number,
            walls=self.walls(about),
            cup_low=low,
            cup_high=high,
            process=about.process,
            manner=about.manner,
            form=about.form,
            joint_type=about.joint_type,
            flux=about.flux,
        )

    def walls(self, about: JointClass) -> JobWalls:
        """Return the walls of a class; an adopted table stands in for an unmeasured fitting."""
        kinds = {t.coupon_kind for t in self.held.tests}
        fitting = about.fitting_wall or adopted_wall(self.timely, kinds, about.fitting, about.size)
        return JobWalls(about.tube_wall, about.tube_minimum, fitting, about.stand_ins)


@dataclass(frozen=True)
class Lack:
    """One variable that is missing: the finding, and by how much a figure exceeds its limit.

    ``by`` is relative (0.04 is 4 %), 0 where the variable is a word.
    """

    finding: Finding
    by: Fraction = Fraction(0)


@dataclass(frozen=True)
class Answer:
    """One cell: the verdict by the nearest qualification, and what that one lacks.

    ``by`` is that qualification's id, empty where the person holds none; ``alone`` is what its
    range would answer if it were certified and in force.
    """

    person: str
    about: str
    verdict: Verdict
    by: str
    lacks: tuple[Lack, ...]
    alone: Verdict | None = None

    @property
    def state(self) -> int:
        """The state of the cell."""
        return state_of(self.verdict)


def cup_of(about: JointClass, allowance: str) -> tuple[Quantity | None, Quantity | None]:
    """Return least and largest credible overlap of a class; a measured one is both."""
    if about.overlap is not None or about.cup_least is None:
        return about.overlap, about.overlap
    if not allowance:
        return about.cup_least, None
    return about.cup_least, inches(about.cup_least.inches + length(allowance).inches)


def state_of(judged: Finding | Verdict) -> int:
    """Return the state of an answer: met, open, open with the stricter answer, not met."""
    if judged.outcome is Outcome.MET:
        return MET
    if judged.outcome is Outcome.NOT_MET:
        return FAILED
    return STRICT if judged.act_on is Outcome.NOT_MET else OPEN


def records_of(
    about: JointClass, held: HeldOn, known: Mapping[str, Procedure]
) -> tuple[Pqr, ...] | None:
    """Return the procedure records whose window applies; ``None`` for an unknown procedure."""
    if about.procedure:
        named = known.get(about.procedure)
        return named.pqrs if named is not None else None
    return held.procedure.pqrs if held.procedure is not None else ()


def _text(quantity: Quantity | None) -> str:
    return quantity.text if quantity is not None else ""


def _metals(tests: Iterable[TestedJoint]) -> frozenset[tuple[object, ...]]:
    return frozenset((t.p_numbers, t.f_number, t.flux, t.process) for t in tests)
