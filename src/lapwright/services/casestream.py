"""The acts of one case as the ledger holds them: which stand, and in the order of the street.

The programme's acts that bear on the case (`lapwright.services.bearing`) are judged and
attached behind its own.

A ledger grows by appending, so an entry that was filed again stands behind what
depends on it: a coupon's brazing behind the looks at its joints. What is judged
and attached to a record is therefore put in the order of the street, by coupon,
joint and face as they were first filed. The order follows from the ledger alone,
whatever the order of the case folder.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.fold import case_stream
from lapwright.core.standing import resolve
from lapwright.ledger.log import Log, MemoryLog

from .bearing import bearing_acts, known_on

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
    """A case's stream: every act of it, those that stand in order, and who voided which.

    ``bearing`` are the programme's acts that bear on it, and ``judged`` those of them that
    stand on the day asked about behind the case's own.
    """

    case: str
    every: tuple[Act, ...]
    standing: tuple[Act, ...]
    voids: Mapping[str, Act]
    bearing: tuple[Act, ...] = ()
    judged: tuple[Act, ...] = ()

    def as_log(self, log: Log) -> MemoryLog:
        """Return the judged acts as a log of their own, with the names that ``log`` holds."""
        mirror = MemoryLog()
        mirror.append(self.judged)
        side = log.side_records()
        for act in self.judged:
            kept = side.get(act.body.get("name_commitment", ""))
            if kept is not None:
                mirror.put_side(act.body["name_commitment"], kept.value, kept.salt)
        return mirror


def read_case(log: Log, case: str) -> CaseStream:
    """Return the acts of a case alone, as they are filed.

    Parameters
    ----------
    log : Log
        The ledger.
    case : str
        The case's id.
    """
    acts = tuple(e.act for e in log.entries(stream=case_stream(case)))
    stands, voids = not_voided(acts)
    return CaseStream(case, acts, in_street_order(stands, acts), voids)


def read_judged(log: Log, case: str, *, as_of: date) -> CaseStream:
    """Return the acts of a case with those of the programme that bear on it, as they are judged.

    Parameters
    ----------
    log : Log
        The ledger.
    case : str
        The case's id.
    as_of : date
        The civil day asked about.
    """
    held = read_case(log, case)
    wide = bearing_acts(log, held.standing)
    stands, voids = not_voided(wide)
    judged = (*held.standing, *known_on(wide, stands, as_of=as_of))
    return replace(held, voids={**held.voids, **voids}, bearing=wide, judged=judged)


def not_voided(acts: Sequence[Act]) -> tuple[list[Act], dict[str, Act]]:
    """Return the acts that were not voided, and the voids by the SHA-256 of what they void.

    Corrections that stand are kept, behind what they correct; see `lapwright.core.standing`.
    """
    said = resolve(acts)
    kept = [a for n, a in enumerate(acts) if n not in said.voids and a.type != "ActVoided"]
    names = {a.sha256 for a in kept}
    stands = [a for a in kept if a.type != "ActCorrected" or a.body["corrects"] in names]
    return stands, {acts[n].sha256: void for n, void in said.voids.items()}


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
