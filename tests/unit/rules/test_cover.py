"""Cover, against a slow plain second judgement, and what has to hold of it whatever the history."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.core.outcomes import Outcome
from lapwright.core.quantities import inches, length
from lapwright.rules.cover import Cover
from lapwright.rules.coverparts import FAILED, HeldOn, JointClass
from lapwright.rules.coverparts import MET as COVERED
from lapwright.rules.inforce import in_force
from lapwright.rules.qualified import History
from unit.rules.covering import STATES, held_on, joint_class, plain_joints, plain_records
from unit.rules.coverplain import MET, NOT, PlainJoint, PlainRecord, PlainTest, answer
from unit.rules.forcing import BOTH, history, passed, record, use

INCH = Fraction(1)
COUPON = PlainTest("C", ("107", "107"), "103", "rod", "none", INCH, Fraction(60, 1000))
WINDOW = ((Fraction(31, 100), Fraction(60, 1000), "CD"),)
JOINT = PlainJoint(
    "C",
    ("107", "107"),
    "103",
    "rod",
    "none",
    Fraction(120, 100),
    INCH,
    Fraction(90, 1000),
    Fraction(90, 1000),
)


def _state(joint: PlainJoint, *held: PlainRecord) -> int:
    records = tuple(held_on(r, number=n) for n, r in enumerate(held, 1))
    return Cover((joint_class(joint),), records).state("wren", 0)


@settings(max_examples=120, deadline=None)
@given(
    st.lists(plain_joints, min_size=1, max_size=6),
    st.lists(st.lists(plain_records, max_size=3), min_size=1, max_size=3),
)
def test_every_cell_agrees_with_the_plain_judgement(
    joints: list[PlainJoint], people: list[list[PlainRecord]]
) -> None:
    classes = tuple(joint_class(j, n) for n, j in enumerate(joints, 1))
    held = tuple(
        held_on(r, f"p{i}", n) for i, own in enumerate(people) for n, r in enumerate(own, 1)
    )
    cover = Cover(classes, held)
    for i, own in enumerate(people):
        for line, joint in enumerate(joints):
            expected = STATES.index(answer(joint, own))
            assert cover.state(f"p{i}", line) == expected
            assert cover.answer(f"p{i}", line).state == expected


@settings(max_examples=60, deadline=None)
@given(plain_joints, st.lists(plain_records, max_size=3), plain_records)
def test_one_more_record_never_makes_an_answer_worse(
    joint: PlainJoint, held: list[PlainRecord], more: PlainRecord
) -> None:
    assert _state(joint, *held, more) <= _state(joint, *held)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(plain_joints, min_size=1, max_size=5),
    st.lists(plain_records, max_size=3),
    st.randoms(use_true_random=False),
)
def test_the_order_of_classes_and_records_changes_nothing(
    joints: list[PlainJoint], records: list[PlainRecord], chance: object
) -> None:
    classes = [joint_class(j, n) for n, j in enumerate(joints, 1)]
    held = [held_on(r, number=n) for n, r in enumerate(records, 1)]
    first = _told(classes, held)
    chance.shuffle(classes)  # type: ignore[attr-defined]
    chance.shuffle(held)  # type: ignore[attr-defined]
    assert _told(classes, held) == first


def _told(classes: list[JointClass], held: list[HeldOn]) -> dict[str, object]:
    cover = Cover(tuple(classes), tuple(held))
    cells = [cover.answer("wren", i) for i in range(len(classes))]
    return {a.about: (a.state, a.by, {(k.finding.rule, k.by) for k in a.lacks}) for a in cells}


LATER = date(2025, 1, 15)
days = st.integers(0, 700).map(lambda n: LATER + timedelta(days=n))
letters = st.sampled_from("BCD")


def _of_history(known: History, day: date) -> tuple[HeldOn, ...]:
    """Return what a history holds on a day, each position tested as `COUPON` was."""
    found = []
    for q in known.qualifications:
        held = in_force(known, q, adopted=BOTH)
        plain = PlainRecord(MET, tuple(replace(COUPON, position=p) for p in q.positions), WINDOW)
        gates = {p: tuple(held.findings(day, position=p)) for p in q.positions}
        found.append(replace(held_on(plain), id=q.id, gates=gates))
    return tuple(found)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(days, letters), min_size=1, max_size=3),
    st.lists(days, max_size=5),
    st.tuples(days, letters),
    days,
)
def test_one_more_passed_coupon_never_shrinks_later_cover(
    brazed: list[tuple[date, str]], uses: list[date], more: tuple[date, str], day: date
) -> None:
    """Clocks and all: a coupon of any day and position, certified on its day."""
    made = [
        record(passed(on, position=p), id_=f"R{n}", certified=on)
        for n, (on, p) in enumerate([*brazed, more], 1)
    ]
    classes = tuple(joint_class(replace(JOINT, position=p), n) for n, p in enumerate("BCD"))
    known = tuple(use(on) for on in uses)
    before, after = (
        Cover(classes, _of_history(history(*held, uses=known), day)) for held in (made[:-1], made)
    )
    for line in range(len(classes)):
        assert after.state("wren", line) <= before.state("wren", line)


def test_vectors_h1_h2_h3_and_h4_of_the_combined_rules() -> None:
    """Coupons of 1-1/2 L with 1.00 in overlap in C and D; the procedure's 0.31 in."""
    tests = (COUPON, replace(COUPON, position="D"))
    held = PlainRecord(MET, tests, WINDOW)
    assert _state(JOINT, held) == COVERED
    assert _state(replace(JOINT, overlap=Fraction(130, 100)), held) == FAILED
    assert _state(replace(JOINT, wall=Fraction(125, 1000)), held) == FAILED
    assert _state(replace(JOINT, f_number="102", metals=("107", "108")), held) == FAILED


def test_both_sides_of_the_overlap_window() -> None:
    """B-08: no shorter than the procedure's coupon, at most a quarter longer than the brazer's."""
    half = Fraction(1, 2)
    held = PlainRecord(MET, (replace(COUPON, overlap=half),), ((half, Fraction(60, 1000), "C"),))
    for hundredths, expected in ((60, COVERED), (45, FAILED), (65, FAILED)):
        assert _state(replace(JOINT, overlap=Fraction(hundredths, 100)), held) == expected
    assert _state(replace(JOINT, overlap=Fraction(625, 1000)), held) == COVERED


def test_the_nearest_lacks_the_fewest_variables_then_the_smallest_excess() -> None:
    near = PlainRecord(MET, (replace(COUPON, overlap=Fraction(90, 100)),), WINDOW)
    far = PlainRecord(MET, (replace(COUPON, overlap=Fraction(60, 100)),), WINDOW)
    other = PlainRecord(MET, (replace(COUPON, position="D", f_number="101"),), WINDOW)
    held = tuple(held_on(r, number=n) for n, r in enumerate((other, far, near), 1))
    found = Cover((joint_class(JOINT),), held).answer("wren", 0)
    assert found.by == "R3"
    (lack,) = found.lacks
    assert lack.finding.rule == "overlap.max_increase"
    assert lack.by == Fraction(120, 100) / (Fraction(90, 100) * Fraction(5, 4)) - 1


def test_a_table_depth_never_covers_and_an_allowance_may() -> None:
    """K-04: table depths are least depths."""
    asked = replace(JOINT, overlap=None, table=Fraction(40, 100))
    held = held_on(PlainRecord(MET, (COUPON,), WINDOW))
    assert Cover((joint_class(asked),), (held,)).state("wren", 0) == 1
    deeper = replace(held, basis=replace(held.basis, options={"cup_allowance": "0.05 in"}))
    assert Cover((joint_class(asked),), (deeper,)).state("wren", 0) == COVERED
    refused = replace(asked, table=Fraction(130, 100))
    assert Cover((joint_class(refused),), (deeper,)).state("wren", 0) == FAILED


def test_two_metals_qualified_alone_serve_the_pair_over_two_records_in_force() -> None:
    """A-22, TV-A22-3; a record that is not in force lends nothing."""
    asked = replace(JOINT, metals=("107", "108"))
    first = PlainRecord(MET, (COUPON,), WINDOW)
    second = PlainRecord(MET, (replace(COUPON, metals=("108", "108")),), WINDOW)
    assert _state(asked, first) == FAILED
    assert _state(asked, first, second) == COVERED
    assert _state(asked, first, replace(second, gate=NOT)) == FAILED


def test_another_filler_lends_no_metals() -> None:
    """Copper to bronze tested with silver filler gives no copper to bronze with BCuP."""
    both = (COUPON, replace(COUPON, metals=("107", "108"), f_number="102"))
    assert _state(replace(JOINT, metals=("107", "108")), PlainRecord(MET, both, WINDOW)) == FAILED


def test_the_procedure_that_a_class_names_gives_the_window() -> None:
    held = held_on(PlainRecord(MET, (COUPON,), WINDOW))
    named = replace(joint_class(JOINT), procedure="P2")
    assert Cover((named,), (held,)).state("wren", 0) == 1
    assert held.procedure is not None
    pqr = replace(held.procedure.pqrs[0], overlap=length("1.25 in"))
    other = replace(held.procedure, id="P2", pqrs=(pqr,))
    assert Cover((named,), (held,), {"P2": other}).state("wren", 0) == FAILED
    fits = replace(named, overlap=inches("1.25"))
    assert Cover((fits,), (held,), {"P2": other}).state("wren", 0) == COVERED


def test_somebody_without_a_record_is_covered_for_nothing() -> None:
    found = Cover((joint_class(JOINT),), ()).answer("wren", 0)
    assert found.verdict.outcome is Outcome.NOT_MET
    assert found.by == ""
