"""The acts of one case as the ledger holds them: which stand, and in the order of the street.

A ledger grows by appending, so an entry that was filed again stands behind what
depends on it: a coupon's brazing behind the looks at its joints. What is judged
and attached to a record is therefore put in the order of the street, by coupon,
joint and face as they were first filed. The order follows from the ledger alone,
whatever the order of the case folder.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from lapwright.core.acts import Act
from lapwright.ledger.log import Log, MemoryLog

from .emit import case_stream

_FIRST = (
    "BasisAdopted",
    "RuleConfirmed",
    "RangeTableAdopted",
    "PersonEnrolled",
    "EmployerRepresentativeNamed",
    "InstrumentFiled",
    "MethodChecked",
    "ProcedureFiled",
    "SessionOpened",
    "TrainingGiven",
)
_LATER = len(_FIRST) + 1
_OF_JOINT = ("CouponExamined", "CouponSectioned", "", "SpecimenTested")
# What a case folder states; other entries of its stream (custody, a doubt) were filed elsewhere.
FROM_FOLDER = frozenset(
    (
        *_FIRST,
        "CouponMarked",
        "CouponBrazed",
        "BoreExamined",
        "CouponExamined",
        "CouponSectioned",
        "SpecimenTested",
        "FacePrepared",
        "FaceRead",
    )
)


@dataclass(frozen=True)
class CaseStream:
    """A case's stream: how many entries it holds, the acts that stand, and who voided which."""

    case: str
    count: int
    standing: tuple[Act, ...]
    voids: Mapping[str, Act]

    def as_log(self, log: Log) -> MemoryLog:
        """Return the standing acts as a log of their own, with the names that ``log`` holds."""
        mirror = MemoryLog()
        mirror.append(self.standing)
        side = log.side_records()
        for act in self.standing:
            kept = side.get(act.body.get("name_commitment", ""))
            if kept is not None:
                mirror.put_side(act.body["name_commitment"], kept.value, kept.salt)
        return mirror


def read_case(log: Log, case: str) -> CaseStream:
    """Return the acts of a case.

    Parameters
    ----------
    log : Log
        The ledger.
    case : str
        The case's id.
    """
    acts = [e.act for e in log.entries(stream=case_stream(case))]
    stands, voids = standing(acts)
    return CaseStream(case, len(acts), in_street_order(stands, acts), voids)


def standing(acts: Iterable[Act]) -> tuple[list[Act], dict[str, Act]]:
    """Return the acts that were not voided, and the voids by the SHA-256 of what they void.

    A void takes out what was filed before it, with its corrections: the same act filed
    again later stands. A voided void counts for nothing. Corrections that stand are kept.
    """
    every = list(acts)
    gone: set[int] = set()
    voids: dict[str, Act] = {}
    for place in reversed(range(len(every))):
        act = every[place]
        if act.type == "ActVoided" and place not in gone:
            gone |= {n for n in range(place) if every[n].sha256 == act.body["voids"]}
            voids.setdefault(act.body["voids"], act)
    stands = [a for n, a in enumerate(every) if n not in gone and a.type != "ActVoided"]
    names = {a.sha256 for a in stands}
    kept = [a for a in stands if a.type != "ActCorrected" or a.body["corrects"] in names]
    return kept, voids


@dataclass
class _Places:
    """Coupon, joint and face -> their place, in the order of first filing."""

    coupons: dict[str, int] = field(default_factory=dict)
    joints: dict[str, tuple[int, int]] = field(default_factory=dict)
    faces: dict[str, tuple[int, int, int]] = field(default_factory=dict)

    def learn(self, act: Act) -> None:
        """Note what an act brings up for the first time."""
        body = act.body
        if act.type in ("CouponMarked", "CouponBrazed"):
            coupon = self.coupons.setdefault(body["coupon"], len(self.coupons))
            for joint in body.get("joints", ()):
                self.joints.setdefault(joint["id"], (coupon, len(self.joints)))
        elif act.type == "FacePrepared":
            joint = self.joints.get(body["joint"], (len(self.coupons), 0))
            self.faces.setdefault(body["face"], (*joint, len(self.faces)))

    def of(self, act: Act) -> tuple[int, ...]:
        """Return the sort key of an act."""
        body: Mapping[str, Any] = act.body
        if act.type in _FIRST:
            return (_FIRST.index(act.type),)
        if act.type in ("CouponMarked", "CouponBrazed"):
            later = 0 if act.type == "CouponMarked" else 1
            return (len(_FIRST), self.coupons[body["coupon"]], -1, later)
        if act.type in ("FacePrepared", "FaceRead"):
            coupon, joint, face = self.faces.get(body["face"], (len(self.coupons), 0, 0))
            return (len(_FIRST), coupon, joint, 9, face, 0 if act.type == "FacePrepared" else 1)
        if act.type in FROM_FOLDER:
            coupon, joint = self.joints.get(body["joint"], (len(self.coupons), 0))
            return (len(_FIRST), coupon, joint, _step(act))
        return (_LATER,)


def _step(act: Act) -> int:
    if act.type == "BoreExamined":
        return 3 if act.body.get("stage") == "opened" else 0
    return 1 + _OF_JOINT.index(act.type)


def in_street_order(acts: Iterable[Act], filed: Iterable[Act]) -> tuple[Act, ...]:
    """Return acts in the order of the street.

    Parameters
    ----------
    acts : iterable of Act
        The acts to put in order; those of one place keep theirs.
    filed : iterable of Act
        Everything filed in the case, oldest first, from which the places are learnt.
    """
    places = _Places()
    for act in filed:
        places.learn(act)
    return tuple(sorted(acts, key=places.of))
