"""What one act adds to the evidence: the scratch of a fold, and a handler for each type of act.

Used by `lapwright.core.fold` alone. Longer than the house's size: one short handler a type.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any, TypeVar

from . import evidence as ev
from .acts import Act
from .bodies import (
    cleared,
    doubt_of,
    joint_of,
    length_of,
    length_or_none,
    member_of,
    method_check_of,
    names_of,
    pqr_of,
    reading_of,
)
from .errors import EvidenceRefused
from .quantities import Quantity
from .standing import Standing
from .times import parse_date

_T = TypeVar("_T")


class State:
    """Mutable scratch of one fold; frozen at the end."""

    def __init__(self) -> None:
        self.session: Mapping[str, Any] = {}
        self.roles: dict[str, tuple[str, ...]] = {}
        self.basis: ev.Basis | None = None
        self.ticks: list[ev.RuleTick] = []
        self.tables: list[ev.RangeTable] = []
        self.people: dict[str, ev.Person] = {}
        self.instruments: dict[str, ev.Instrument] = {}
        self.procedures: dict[str, ev.Procedure] = {}
        self.markings: dict[str, Mapping[str, str]] = {}
        self.coupons: dict[str, ev.Coupon] = {}
        self.joints: dict[str, ev.Joint] = {}
        self.faces: dict[str, ev.Face] = {}
        self.trainings: list[ev.Training] = []
        self.methods: list[ev.MethodCheck] = []
        self.doubts: dict[str, ev.Doubt] = {}
        self.at_hand: Standing | None = None

    @property
    def sha256(self) -> str:
        """Name of the act at hand: the digest of the bytes first written."""
        return self.at_hand.sha256 if self.at_hand else ""

    def joint(self, act: Act) -> ev.Joint:
        """Return the joint an act names, or refuse."""
        return _known(self.joints, act.body["joint"], "joint", act)

    def freeze(self, as_of: date, known_by: date | None) -> ev.Evidence:
        """Return the evidence with faces hung on joints and joints on coupons."""
        joints = {
            i: replace(j, faces=tuple(f for f in self.faces.values() if f.joint == i))
            for i, j in self.joints.items()
        }
        coupons = tuple(
            replace(
                c,
                marking=self.markings.get(c.id, {}),
                joints=tuple(j for j in joints.values() if j.coupon == c.id),
            )
            for c in self.coupons.values()
        )
        basis = self.basis
        if basis is not None:
            basis = replace(basis, ticks=tuple(self.ticks), range_tables=tuple(self.tables))
        s = self.session
        return ev.Evidence(
            case=s.get("case", ""),
            as_of=as_of,
            known_by=known_by,
            place=s.get("place", ""),
            employer=s.get("employer", ""),
            brazer=s.get("brazer", ""),
            mark=s.get("mark", ""),
            job=s.get("job", ""),
            roles=self.roles,
            basis=basis,
            people=self.people,
            instruments=self.instruments,
            procedure=self._procedure(),
            coupons=coupons,
            trainings=tuple(self.trainings),
            methods=tuple(self.methods),
            doubts=tuple(self.doubts.values()),
        )

    def _procedure(self) -> ev.Procedure | None:
        """Return the procedure that the session names, else the one filed last."""
        named = self.procedures.get(str(self.session.get("procedure", "")))
        return named or next(reversed(self.procedures.values()), None)


def _basis(state: State, act: Act) -> None:
    b = act.body
    state.basis = ev.Basis(
        editions=tuple(b["editions"]),
        decision_rule=b["decision_rule"],
        thickness_readings=tuple(b.get("thickness_readings", ("S1", "S3"))),
        adopted_on=act.happened_on,
        adopted_by=b.get("adopted_by", act.recorded_by),
        options=dict(b.get("options", {})),
    )


def _tick(state: State, act: Act) -> None:
    b = act.body
    _once(
        state.ticks,
        ev.RuleTick(
            b["rule"], b["figure"], b.get("by", act.recorded_by), act.happened_on, b["copy"]
        ),
    )


def _range_table(state: State, act: Act) -> None:
    b = act.body
    walls = {s: Quantity.parse(w, "length") for s, w in b.get("fitting_walls", {}).items()}
    _once(
        state.tables,
        ev.RangeTable(
            b["table"],
            b["coupon_kind"],
            tuple(b["sizes"]),
            b.get("adopted_by", act.recorded_by),
            act.happened_on,
            walls,
        ),
    )


def _person(state: State, act: Act) -> None:
    b = act.body
    held = state.people.get(b["person"])
    if held is not None and held.commitment != b["name_commitment"]:
        raise EvidenceRefused(
            f"{act.type} puts another name behind a person that exists already",
            got=f"{b['person']}, {b['name_commitment']}",
            expected=held.commitment,
            do="Give every person an id of their own, or correct the entry that is wrong.",
        )
    state.people[b["person"]] = ev.Person(
        b["person"], b["role"], b["name_commitment"], b.get("employer", "")
    )


def _instrument(state: State, act: Act) -> None:
    b = act.body
    until, done = b.get("calibrated_until", ""), b.get("calibrated_on", "")
    filed = state.instruments.get(b["instrument"])
    state.instruments[b["instrument"]] = ev.Instrument(
        b["instrument"],
        b["kind"],
        b.get("resolution", ""),
        parse_date(until) if until else None,
        (*(filed.calibrations if filed else ()), *((parse_date(done),) if done else ())),
    )


def _procedure(state: State, act: Act) -> None:
    b = act.body
    signed = b.get("signed", {})
    clearance = b.get("clearance", {})
    state.procedures.pop(b["procedure"], None)  # filed again: it is the one filed last
    state.procedures[b["procedure"]] = ev.Procedure(
        id=b["procedure"],
        revision=b["revision"],
        process=b.get("process", ""),
        manner=b.get("manner", ""),
        flux=b.get("flux", ""),
        positions=tuple(b.get("positions", ())),
        topics=dict(b.get("topics", {})),
        pqrs=tuple(pqr_of(p) for p in b["pqr"]),
        signed_by=signed.get("by", ""),
        signed_on=parse_date(signed["on"]) if signed.get("on") else None,
        clearance=(length_of(clearance["low"]), length_of(clearance["high"]))
        if clearance
        else None,
    )


def _session(state: State, act: Act) -> None:
    state.session = act.body
    state.roles = {k: names_of(v) for k, v in act.body.get("roles", {}).items()}


def _marked(state: State, act: Act) -> None:
    state.markings[act.body["coupon"]] = {k: v for k, v in act.body.items() if isinstance(v, str)}


def _brazed(state: State, act: Act) -> None:
    b = act.body
    _new(state.coupons, b["coupon"], "coupon", act)
    joints = tuple(joint_of(j, b["coupon"]) for j in b.get("joints", ()))
    for j in joints:
        _new(state.joints, j.id, "joint", act)
        state.joints[j.id] = j
    state.coupons[b["coupon"]] = ev.Coupon(
        id=b["coupon"],
        mark=b.get("mark", ""),
        brazed_on=act.happened_on,
        brazed_by=b.get("by", ""),
        supervisor=b.get("supervisor", ""),
        started=act.happened_at,
        process=b.get("process", ""),
        manner=b.get("manner", ""),
        joint_type=b.get("joint_type", ""),
        flux=b.get("flux", ""),
        filler=b["filler"].get("class", ""),
        form=b["filler"].get("form", ""),
        filler_lot=b["filler"].get("lot", ""),
        tube=member_of(b["tube"]),
        fitting=member_of(b["fitting"]),
        cleaning=dict(b.get("cleaning", {})),
        purge=dict(b.get("purge", {})),
        marking={},
        round=b.get("round", "first"),
        joints=(),
    )


def _examined(state: State, act: Act) -> None:
    b = act.body
    joint = state.joint(act)
    look = ev.Examination(
        b.get("stage", "visual"),
        b.get("by", act.recorded_by),
        act.happened_on,
        dict(b.get("items", {})),
        b.get("remark", ""),
        b.get("photo", ""),
    )
    state.joints[joint.id] = replace(joint, examinations=(*joint.examinations, look))


def _sectioned(state: State, act: Act) -> None:
    b = act.body
    joint = state.joint(act)
    fixed = b.get("fixed_on", "")
    cut = ev.Section(
        b["plane"],
        parse_date(fixed) if fixed else None,
        b.get("fixed_before_looking", ""),
        b.get("by", ""),
        act.happened_on,
        Quantity.parse(b["place"], "angle") if b.get("place") else None,
    )
    state.joints[joint.id] = replace(joint, section=cut)


def _prepared(state: State, act: Act) -> None:
    b = act.body
    state.joint(act)
    _new(state.faces, b["face"], "face", act)
    state.faces[b["face"]] = ev.Face(
        b["face"],
        b["joint"],
        b.get("grit", ""),
        b.get("etched", ""),
        b.get("magnification", ""),
        act.happened_on,
        b.get("half", ""),
        b.get("crack", ""),
        length_or_none(b.get("crack_length")),
        b.get("over_ground", ""),
        clock=b.get("clock", ""),
        erosion=b.get("erosion", ""),
    )


def _read(state: State, act: Act) -> None:
    b = act.body
    face = _known(state.faces, b["face"], "face", act)
    reading = reading_of(act, name=state.sha256)
    state.faces[face.id] = replace(face, readings=(*face.readings, reading))


def _tested(state: State, act: Act) -> None:
    b = act.body
    joint = state.joint(act)
    test = ev.Specimen(
        b["specimen"],
        joint.id,
        b["kind"],
        b.get("by", ""),
        act.happened_on,
        dict(b.get("figures", {})),
    )
    state.joints[joint.id] = replace(joint, specimens=(*joint.specimens, test))


def _trained(state: State, act: Act) -> None:
    b = act.body
    state.trainings.append(ev.Training(b["person"], act.happened_on, b["what"], b.get("by", "")))


def _method(state: State, act: Act) -> None:
    check = method_check_of(act.body, act.happened_on, act=state.sha256)
    if check not in [replace(held, act=check.act) for held in state.methods]:
        state.methods.append(check)


def _doubted(state: State, act: Act) -> None:
    doubt = replace(doubt_of(act), id=act.body.get("doubt", "") or state.sha256)
    state.doubts[doubt.id] = doubt


def _cleared(state: State, act: Act) -> None:
    raised = state.doubts.get(act.body["doubt"])
    if raised is not None:  # a doubt of another stream may not be among these acts
        state.doubts[raised.id] = cleared(raised, act)


HANDLERS = {
    "BasisAdopted": _basis,
    "RuleConfirmed": _tick,
    "RangeTableAdopted": _range_table,
    "PersonEnrolled": _person,
    "InstrumentFiled": _instrument,
    "ProcedureFiled": _procedure,
    "SessionOpened": _session,
    "CouponMarked": _marked,
    "CouponBrazed": _brazed,
    "BoreExamined": _examined,
    "CouponExamined": _examined,
    "CouponSectioned": _sectioned,
    "FacePrepared": _prepared,
    "FaceRead": _read,
    "SpecimenTested": _tested,
    "TrainingGiven": _trained,
    "MethodChecked": _method,
    "DoubtRaised": _doubted,
    "DoubtCleared": _cleared,
}

# What an act needs is taken in before it, wherever it stands in the log: a coupon that was
# voided and filed again stands behind the looks at its joints.
_RANKS = {
    "CouponBrazed": 1,
    "BoreExamined": 2,
    "CouponExamined": 2,
    "CouponSectioned": 2,
    "SpecimenTested": 2,
    "FacePrepared": 2,
    "FaceRead": 3,
    "DoubtCleared": 1,
}


# What a body of the wrong shape, a text where a list belongs, makes the reading of it raise.
_MISSHAPEN = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)


def take(handler: Callable[[_T, Act], None], into: _T, act: Act, *, name: str) -> None:
    """Let a handler take an act in; refuse a body that is not of its type's shape.

    Parameters
    ----------
    handler : callable
        Takes ``into`` and the act.
    into : object
        What is being made.
    act : Act
        The act as it stands.
    name : str
        Digest of the act as first written.

    Raises
    ------
    EvidenceRefused
        If the handler cannot read the body.
    """
    try:
        handler(into, act)
    except _MISSHAPEN as fault:
        raise EvidenceRefused(
            f"the body of {act.type} is not of its shape",
            got=f"{type(fault).__name__}: {fault}",
            expected=f"the body of version {act.version} as this tool writes it",
            where=f"entry {name}",
            do="Correct the entry, or void it.",
        ) from fault


def rank(type_: str) -> int:
    """Return how late in a fold acts of a type are taken in."""
    return _RANKS.get(type_, 0)


def _once(things: list[_T], thing: _T) -> None:
    """Add what is not there: filed twice in the same words it is one."""
    if thing not in things:
        things.append(thing)


def _known(things: Mapping[str, _T], key: str, kind: str, act: Act) -> _T:
    found = things.get(key)
    if found is None:
        raise EvidenceRefused(
            f"{act.type} names an unknown {kind}",
            got=key,
            expected=", ".join(things) or f"a {kind} filed before",
            do=f"Correct the {kind}'s id, or file the {kind} first.",
        )
    return found


def _new(things: Mapping[str, object], key: str, kind: str, act: Act) -> None:
    if key in things:
        raise EvidenceRefused(
            f"{act.type} names a {kind} that exists already",
            got=key,
            expected=f"a new {kind} id",
            do=f"Give every {kind} of a case its own id.",
        )
