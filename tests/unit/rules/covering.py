"""Invented classes and qualifications for the tests of cover, each with its plain twin."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from hypothesis import strategies as st

from lapwright.core.evidence import Basis, Pqr, Procedure
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.quantities import inches
from lapwright.rules.coverparts import HeldOn, JointClass
from lapwright.rules.ranges import TestedJoint
from lapwright.rules.thickness import CouponWalls
from published.adopting import adopted
from unit.rules.coverplain import (
    MET,
    NOT,
    OPEN,
    PQR_FILLER,
    PQR_FORM,
    STRICT,
    PlainJoint,
    PlainRecord,
    PlainTest,
)

BOTH = adopted(["asme-bpvc-ix 2023", "nfpa-99 2018", "programme 1"])
BASIS = Basis(("asme-bpvc-ix 2023", "nfpa-99 2018"), "simple", ("S1",), date(2025, 1, 1), "tl", {})
STATES = (MET, OPEN, STRICT, NOT)
walls = st.sampled_from([30, 40, 60, 90, 110, 125, 140]).map(lambda n: Fraction(n, 1000))
overlaps = st.sampled_from([17, 20, 25, 31, 32, 40, 100, 125]).map(lambda n: Fraction(n, 100))
metals = st.sampled_from([("107", "107"), ("107", "108"), ("108", "108")])
fillers = st.sampled_from(["103", "103", "101"])
forms = st.sampled_from(["rod", "rod", "ring"])
fluxes = st.sampled_from(["none", "none", "type-3"])

plain_tests = st.builds(
    PlainTest,
    st.sampled_from("BCD"),
    metals,
    fillers,
    forms,
    fluxes,
    st.one_of(st.none(), overlaps, overlaps),
    walls,
)
windows = st.tuples(overlaps, walls, st.sampled_from(["C", "D", "CD"]))
plain_records = st.builds(
    PlainRecord,
    st.sampled_from([MET, MET, MET, OPEN, STRICT, NOT]),
    st.lists(plain_tests, min_size=1, max_size=4).map(tuple),
    st.lists(windows, max_size=2).map(tuple),
)
plain_joints = st.builds(
    PlainJoint,
    st.sampled_from("BCD"),
    metals,
    fillers,
    forms,
    fluxes,
    st.one_of(st.none(), overlaps, overlaps),
    overlaps,
    walls,
    walls,
)


def joint_class(plain: PlainJoint, number: int = 1) -> JointClass:
    """Return the class that a plain joint stands for."""
    return JointClass(
        id=f"C{number:02d}",
        size="1",
        tube="ASTM B819",
        tube_type="L",
        fitting="ASME B16.50",
        position=plain.position,
        p_numbers=plain.metals,
        filler="BCuP-5",
        f_number=plain.f_number,
        overlap=inches(plain.overlap) if plain.overlap is not None else None,
        cup_least=inches(plain.table) if plain.overlap is None else None,
        tube_wall=inches(plain.wall),
        fitting_wall=inches(plain.fitting_wall),
        form=plain.form,
        flux=plain.flux,
    )


def held_on(plain: PlainRecord, person: str = "wren", number: int = 1) -> HeldOn:
    """Return the qualification that a plain record stands for."""
    record = f"R{number}"
    letters = {t.position for t in plain.tests}
    return HeldOn(
        id=record,
        person=person,
        tests=tuple(_tested(t, n) for n, t in enumerate(plain.tests)),
        basis=BASIS,
        procedure=_procedure(plain),
        adopted=BOTH,
        gates={letter: (gate(plain.gate, record),) for letter in letters},
    )


def gate(state: str, record: str) -> Finding:
    """Return a finding on a whole record in one of the four states."""
    subject, told = Subject("record", record), Message("force.not_certified", record=record)
    if state == MET:
        return Finding("record.supports", subject, Outcome.MET, told)
    if state == NOT:
        return Finding("record.supports", subject, Outcome.NOT_MET, told)
    held = Finding("record.supports", subject, Outcome.UNDETERMINED, told, why=Why.HOLD)
    return held if state == OPEN else replace(held, act_on=Outcome.NOT_MET)


def _tested(plain: PlainTest, number: int) -> TestedJoint:
    return TestedJoint(
        coupon="K1",
        joint=f"J{number}",
        position=plain.position,
        process="TB",
        manner="manual",
        p_numbers=plain.metals,
        f_number=plain.f_number,
        form=plain.form,
        joint_type="socket",
        flux=plain.flux,
        overlap=inches(plain.overlap) if plain.overlap is not None else None,
        walls=CouponWalls(inches(plain.wall), inches(plain.wall), "L"),
        coupon_kind="1-1/2 L ASME B16.50",
    )


def _procedure(plain: PlainRecord) -> Procedure:
    pqrs = tuple(
        Pqr(
            f"Q{n}",
            inches(overlap),
            inches(wall),
            inches(wall),
            ("107", "107"),
            PQR_FILLER,
            PQR_FORM,
            "none",
            tuple(letters),
        )
        for n, (overlap, wall, letters) in enumerate(plain.records)
    )
    return Procedure("P1", "1", "TB", "manual", "none", ("B", "C", "D"), {}, pqrs, "tl", None)
