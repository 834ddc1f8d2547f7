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

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from lapwright.core.evidence import Basis, Pqr, Procedure, RangeTable
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why, combine
from lapwright.core.quantities import Quantity, inches, length
from lapwright.reference.errors import UnknownSize
from lapwright.reference.fittings import cup, cup_sizes, wall_guess
from lapwright.reference.tube import tube, tube_sizes

from .asking import Question, Ruling
from .positions import Tested, judge_position
from .procedure import judge_unequal_walls
from .ranges import (
    JobJoint,
    TestedJoint,
    judge_cup_floor,
    judge_demand,
    judge_together,
    limiting,
    nearest,
    needed_together,
)
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
    from memory only; ``brazed`` tells one set of variables from another where
    joints of several sets passed.
    """

    size: str
    tube_type: str
    fitting: str
    position: str
    verdict: Verdict
    recalled: str = ""
    brazed: str = ""

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
    # the deepest first, so that the order of a file decides neither answer nor reason
    distinct = tuple(sorted({_key(t): t for t in tests}.values(), key=_deepest_first))
    if not distinct:
        return ()
    rows = []
    sets = sets_of_variables(distinct)
    names = names_of_sets(list(sets))
    for key, line in ((k, ln) for k in sets for ln in _lines()):
        job = _job(line, sets[key], basis)
        by_group = [
            combine(
                [
                    *judge_together(
                        g, job, tests=distinct, readings=basis.thickness_readings, adopted=adopted
                    ).findings,
                    *judge_by_table(g[0], basis, job.id, line.size, adopted=adopted),
                ]
            )
            for g in needed_together(distinct)
        ]
        found = [*nearest(by_group).findings, *_by_procedure(procedure, job, adopted)]
        rows.append(
            ListedSize(
                line.size,
                line.tube_type,
                line.fitting,
                line.position,
                _surest(combine(found)),
                _recalled(line.fitting, line.size),
                names[key],
            )
        )
    return tuple(rows)


def _surest(verdict: Verdict) -> Verdict:
    """Say why a size is open: where an unconfirmed rule refuses it, no missing figure matters."""
    refused = verdict.before_confirmation is Outcome.NOT_MET
    if verdict.outcome is not Outcome.UNDETERMINED or not refused:
        return verdict
    return replace(verdict, why=Why.UNCONFIRMED, act_on=Outcome.NOT_MET)


def sets_of_variables(
    tests: Sequence[TestedJoint],
) -> dict[tuple[str, ...], list[TestedJoint]]:
    """Return the passed joints by what they were brazed with: a set of variables, base metals too.

    A job joint is asked about once for each set.
    """
    found: dict[tuple[str, ...], list[TestedJoint]] = {}
    for t in tests:
        metals = f"P-{'/P-'.join(sorted(t.p_numbers))}"
        f_number = f"F-{t.f_number or '?'}"
        made = (t.process, t.manner, t.joint_type, f_number, t.form, f"flux {t.flux or '?'}")
        found.setdefault((*made, metals), []).append(t)
    return found


def names_of_sets(sets: Sequence[tuple[str, ...]]) -> dict[tuple[str, ...], str]:
    """Return for each set of variables what tells it from the others; empty for a single one."""
    differ = [i for i in range(len(sets[0])) if len({s[i] for s in sets}) > 1] if sets else []
    return {s: ", ".join(s[i] for i in differ) for s in sets}


def _deepest_first(test: TestedJoint) -> tuple[Fraction, str, str]:
    depth = test.overlap.base if test.overlap is not None else Fraction(0)
    brazed = (test.process, test.manner, *sorted(test.p_numbers), test.f_number, test.form)
    return (-depth, test.position, str((*brazed, test.joint_type, test.flux, test.coupon_kind)))


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
        test.looked_on,
    )


@dataclass(frozen=True)
class _Line:
    """What one line of the list asks about."""

    size: str
    tube_type: str
    fitting: str
    position: str


def _lines() -> Iterator[_Line]:
    for type_ in TUBE_TYPES:
        for size in tube_sizes(TUBE_STANDARD, type_=type_):
            for fitting in FITTING_STANDARDS:
                if size in cup_sizes(fitting):
                    yield from (_Line(size.designation, type_, fitting, p) for p in POSITIONS)


def _job(line: _Line, tests: Sequence[TestedJoint], basis: Basis) -> JobJoint:
    """Make the job joint of a line, brazed as the given joints of one set were."""
    row = tube(TUBE_STANDARD, line.size, type_=line.tube_type)
    depth = cup(line.fitting, line.size).depth_min
    allowance = basis.option("cup_allowance")
    kinds = {t.coupon_kind for t in tests}
    timely = [t for t in basis.range_tables if not any(late_table(t, test) for test in tests)]
    like = tests[0]
    return JobJoint(
        id=f"{line.size} {line.tube_type} {line.fitting} {line.position}",
        position=line.position,
        p_numbers=like.p_numbers,
        f_number=like.f_number,
        walls=JobWalls(
            row.wall_nominal,
            row.wall_minimum,
            adopted_wall(timely, kinds, line.fitting, line.size),
            stand_ins(line.size),
        ),
        cup_low=depth,
        cup_high=inches(depth.inches + length(allowance).inches) if allowance else None,
        process=like.process,
        manner=like.manner,
        form=like.form,
        joint_type=like.joint_type,
        flux=like.flux,
    )


def _recalled(fitting: str, size: str) -> str:
    """Return the standard whose depth in the table rests on memory, or empty text."""
    return fitting if cup(fitting, size).citation.needs_confirming else ""


def adopted_wall(
    tables: Sequence[RangeTable], kinds: Collection[str], fitting: str, size: str
) -> Quantity | None:
    """Return the thinnest adopted wall, from tables of the tested kinds and this standard."""
    walls = [
        t.fitting_walls[size]
        for t in tables
        if t.coupon_kind in kinds and fitting in t.coupon_kind and size in t.fitting_walls
    ]
    return min(walls) if walls else None


def stand_ins(size: str) -> dict[str, Quantity]:
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


def judge_by_table(
    test: TestedJoint, basis: Basis, job: str, size: str, *, adopted: Adopted
) -> list[Finding]:
    """Answer from the range tables adopted for this test's coupon kind; none says nothing.

    The stricter table answers: each of them must name the size. One that was adopted after
    the coupon had been looked at can refuse a size, and gives none.
    """
    tables = [t for t in basis.range_tables if t.coupon_kind == test.coupon_kind]
    if not tables or not adopted.has("range.adopted_table"):
        return []
    ask = Question("range.adopted_table", Subject("joint", job), adopted)
    without = ", ".join(t.id for t in tables if size not in t.sizes)
    if without:
        outside = Message("range.not_in_table", size=size, tables=without)
        return [ask.answer(lambda _: Ruling(Outcome.NOT_MET, outside))]
    timely = ", ".join(t.id for t in tables if not late_table(t, test))
    if not timely and test.looked_on is not None:
        late = {"tables": ", ".join(t.id for t in tables), "looked": test.looked_on.isoformat()}
        return [ask.hold(Message("range.late_table", size=size, **late))]
    inside = Message("range.in_table", size=size, tables=timely)
    return [ask.answer(lambda _: Ruling(Outcome.MET, inside))]


def late_table(table: RangeTable, test: TestedJoint) -> bool:
    """Whether a table was adopted when the results of a test could be known."""
    return test.looked_on is not None and table.adopted_on >= test.looked_on


def _by_procedure(
    procedure: Procedure | None, job: JobJoint, adopted: Adopted
) -> tuple[Finding, ...]:
    """Ask the procedure's window, one record at a time; the nearest record answers."""
    if procedure is None or not procedure.pqrs:
        return ()
    return nearest([combine(_by_record(p, job, adopted)) for p in procedure.pqrs]).findings


def _by_record(record: Pqr, job: JobJoint, adopted: Adopted) -> Iterator[Finding]:
    subject = Subject("joint", job.id)
    overlaps = [record.overlap] if record.overlap is not None else []
    yield judge_cup_floor(subject, overlaps, job.cup_low, job.cup_high, adopted=adopted)
    yield judge_unequal_walls(
        subject,
        (record.tube_wall, record.fitting_wall),
        (job.walls.tube, job.walls.fitting),
        adopted=adopted,
    )
    tested = [Tested(letter) for letter in record.positions]
    yield judge_position(Tested(job.position), tested, subject=subject, adopted=adopted)
    for rule, own, asked in (
        ("variable.f_number", record.f_number, job.f_number),
        ("variable.product_form", record.form, job.form),
    ):
        if adopted.has(rule):
            yield judge_demand(rule, subject, own, asked, adopted=adopted)
