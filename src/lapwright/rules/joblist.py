"""The concrete list: which sizes and fittings a set of passed joints covers, and why.

Job joints are made from the reference tables: tube wall nominal and minimum,
least cup depth. A table gives only a *minimum* cup depth, so a size is covered
only where the basis adopts an allowance for how much deeper a real cup may be;
otherwise the list says up to which measured depth it is covered. Fitting walls
come from a range table that the programme adopted under signature, never from
the recalled table. An adopted range table and the sum act together: the
stricter answers. The procedure's own window is asked as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from lapwright.core.evidence import Basis, Procedure, RangeTable
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, combine
from lapwright.core.quantities import Quantity, inches, length
from lapwright.reference.errors import UnknownSize
from lapwright.reference.fittings import cup, wall_guess
from lapwright.reference.tube import tube, tube_sizes

from .asking import Question, Ruling
from .positions import Tested, judge_position
from .procedure import judge_unequal_walls
from .ranges import JobJoint, TestedJoint, judge_cover, judge_floor, limiting
from .rulebook import Adopted
from .thickness import JobWalls

TUBE_STANDARD = "ASTM B819"
TUBE_TYPES = ("K", "L")
FITTING_STANDARDS = ("ASME B16.50", "ASME B16.22")
POSITIONS = ("B", "C", "D")


@dataclass(frozen=True)
class ListedSize:
    """One line: a size in one tube type, fitting standard and position, with its answer.

    ``recalled`` names the fitting standard when its depth stands in our table
    from memory only.
    """

    size: str
    tube_type: str
    fitting: str
    position: str
    verdict: Verdict
    recalled: str = ""

    @property
    def reason(self) -> Finding:
        """The finding that limits it: the failing one, else the open one."""
        return limiting(self.verdict)


def list_sizes(
    tests: Sequence[TestedJoint], basis: Basis, procedure: Procedure | None, *, adopted: Adopted
) -> tuple[ListedSize, ...]:
    """Return every size of medical-gas tube with its answer.

    Parameters
    ----------
    tests : sequence of TestedJoint
        Passed joints.
    basis : Basis
        Readings, allowance and range tables.
    procedure : Procedure or None
        The procedure whose window applies as well.
    adopted : Adopted
        The adopted editions.
    """
    distinct = tuple({_key(t): t for t in tests}.values())
    rows = []
    for job, type_, fitting, size in _jobs(distinct, basis):
        verdict = judge_cover(distinct, job, readings=basis.thickness_readings, adopted=adopted)
        extra = [
            *_by_table(distinct, basis, job.id, size, adopted),
            *_by_procedure(procedure, job, adopted),
        ]
        rows.append(
            ListedSize(
                size,
                type_,
                fitting,
                job.position,
                combine([*verdict.findings, *extra]),
                _recalled(fitting, size),
            )
        )
    return tuple(rows)


def _key(test: TestedJoint) -> tuple[object, ...]:
    return (
        test.position,
        test.process,
        test.manner,
        test.p_numbers,
        test.f_number,
        test.form,
        test.joint_type,
        test.flux,
        test.overlap,
        test.walls,
        test.coupon_kind,
    )


def _jobs(tests: Sequence[TestedJoint], basis: Basis) -> Iterator[tuple[JobJoint, str, str, str]]:
    like = tests[0] if tests else None
    for type_ in TUBE_TYPES:
        for size in tube_sizes(TUBE_STANDARD, type_=type_):
            for fitting in FITTING_STANDARDS:
                try:
                    depth = cup(fitting, size.designation).depth_min
                except UnknownSize:
                    continue
                for position in POSITIONS:
                    yield (
                        _job(size.designation, type_, fitting, position, depth, like, basis),
                        type_,
                        fitting,
                        size.designation,
                    )


def _job(
    size: str,
    type_: str,
    fitting: str,
    position: str,
    depth: Quantity,
    like: TestedJoint | None,
    basis: Basis,
) -> JobJoint:
    row = tube(TUBE_STANDARD, size, type_=type_)
    allowance = basis.option("cup_allowance")
    deepest = inches(depth.inches + length(allowance).inches) if allowance else None
    walls = JobWalls(
        row.wall_nominal,
        row.wall_minimum,
        _adopted_wall(basis.range_tables, size),
        _stand_ins(size),
    )
    asked = JobJoint(
        f"{size} {type_} {fitting} {position}",
        position,
        ("107", "107"),
        "103",
        walls,
        depth,
        deepest,
    )
    if like is None:
        return asked
    return JobJoint(
        asked.id,
        position,
        like.p_numbers,
        like.f_number,
        walls,
        depth,
        deepest,
        like.process,
        like.manner,
        like.form,
        like.joint_type,
        like.flux,
    )


def _recalled(fitting: str, size: str) -> str:
    """Return the standard whose depth in the table rests on memory, or empty text."""
    return fitting if cup(fitting, size).citation.needs_confirming else ""


def _adopted_wall(tables: Sequence[RangeTable], size: str) -> Quantity | None:
    walls = [t.fitting_walls[size] for t in tables if size in t.fitting_walls]
    return min(walls) if walls else None


def _stand_ins(size: str) -> dict[str, Quantity]:
    """Return hypothetical fitting walls for readings S4, S6 and S7, where known."""
    found = {}
    for name, hypothesis in (("M", "type-m-tube-stand-in"), ("cast", "cast-joint-pattern")):
        try:
            wall = wall_guess(hypothesis, size).wall
        except UnknownSize:
            continue
        # castings are accepted down to 90 % of the pattern's thickness (ASME B16.18)
        found[name] = wall if name == "M" else inches(wall.inches * Fraction(9, 10))
    found["L"] = tube("ASTM B88", size, type_="L").wall_nominal
    return found


def _by_table(
    tests: Sequence[TestedJoint], basis: Basis, job: str, size: str, adopted: Adopted
) -> list[Finding]:
    """Answer from adopted range tables of the tested coupon kinds; none adopted says nothing."""
    kinds = {t.coupon_kind for t in tests}
    tables = [t for t in basis.range_tables if t.coupon_kind in kinds]
    if not tables or not adopted.has("range.adopted_table"):
        return []
    ask = Question("range.adopted_table", Subject("joint", job), adopted)
    names = ", ".join(t.id for t in tables)
    if any(size in t.sizes for t in tables):
        return [
            ask.answer(
                lambda _: Ruling(Outcome.MET, Message("range.in_table", size=size, tables=names))
            )
        ]
    return [
        ask.answer(
            lambda _: Ruling(
                Outcome.NOT_MET, Message("range.not_in_table", size=size, tables=names)
            )
        )
    ]


def _by_procedure(procedure: Procedure | None, job: JobJoint, adopted: Adopted) -> list[Finding]:
    """Ask the procedure's window: overlap floor, walls, positions of its records."""
    if procedure is None or not procedure.pqrs:
        return []
    subject = Subject("joint", job.id)
    overlaps = [p.overlap for p in procedure.pqrs if p.overlap is not None]
    found = [judge_floor(subject, overlaps, job.cup_low, adopted=adopted)]
    walls = [
        judge_unequal_walls(
            subject,
            (p.tube_wall, p.fitting_wall),
            (job.walls.tube, job.walls.fitting),
            adopted=adopted,
        )
        for p in procedure.pqrs
    ]
    found.append(min(walls, key=lambda f: _ORDER[f.before_confirmation]))
    tested = [Tested(x) for p in procedure.pqrs for x in p.positions]
    asked = judge_position(Tested(job.position), tested, subject=subject, adopted=adopted)
    found.append(asked)
    return found


_ORDER = {Outcome.MET: 0, Outcome.UNDETERMINED: 1, Outcome.NOT_MET: 2}
