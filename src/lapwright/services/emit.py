"""Emit the acts of a case document, in the order of the street.

Bodies are the document's own texts under the ids of the things they concern;
photographs and loupe readings are measured here and only their figures enter
the body, so that a decision is recomputed from filed readings, never from
pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime, time
from typing import Any

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.fold import case_stream
from lapwright.core.times import parse_date, parse_instant

from .casefiles import CaseFiles
from .facereading import read_filed_face
from .methodchecks import filed_check

Doc = Mapping[str, Any]
Progress = Callable[[str], None]


def recorded_at(doc: Doc) -> datetime:
    """Return when the folder was written: the end of its ``written.on``, in UTC.

    The folder states its own day, so that the same folder gives the same acts.
    """
    return datetime.combine(parse_date(doc["written"]["on"]), time(23, 59, 59), tzinfo=UTC)


def emit_acts(
    doc: Doc, files: CaseFiles, names: Mapping[str, str], progress: Progress
) -> Iterator[Act]:
    """Yield every act of a checked case document.

    Parameters
    ----------
    doc : mapping
        The document, valid under the case schema.
    files : CaseFiles
        Reader of the folder's files.
    names : mapping
        Person id to commitment of the name.
    progress : callable
        Told in words before each photograph is measured.
    """
    act = _Maker(doc)
    basis = doc["basis"]
    yield act(
        "BasisAdopted",
        _without(basis, "adopted_on", "range_tables", "booklet"),
        basis["adopted_on"],
    )
    for table in basis.get("range_tables", ()):
        yield act("RangeTableAdopted", _without(table, "adopted_on"), table["adopted_on"])
    first = min(c["brazed"]["on"] for c in doc["coupons"])
    for person, row in doc["people"].items():
        yield act(
            "PersonEnrolled",
            {
                "person": person,
                "role": row["role"],
                "employer": row.get("employer", ""),
                "name_commitment": names[person],
            },
            first,
        )
    yield act(
        "EmployerRepresentativeNamed",
        {"person": doc["roles"]["employer_representative"], "employer": doc["employer"]},
        first,
    )
    for instrument, row in doc.get("instruments", {}).items():
        yield act("InstrumentFiled", {"instrument": instrument, **row}, first)
    for number, check in enumerate(doc.get("method_checks", ())):
        body, digests = filed_check(check, files, where=f"case.yaml: method_checks[{number}]")
        yield act("MethodChecked", body, check["on"], files=digests)
    procedure = doc["procedure"]
    yield act(
        "ProcedureFiled", {"procedure": procedure["bps"], **_without(procedure, "bps")}, first
    )
    yield act("SessionOpened", _session(doc), first)
    for training in doc.get("training", ()):
        yield act(
            "TrainingGiven",
            {"person": doc["brazer"]["person"], **_without(training, "on")},
            training["on"],
        )
    for number, coupon in enumerate(doc["coupons"]):
        yield from _coupon(act, coupon, files, progress, f"case.yaml: coupons[{number}]")


class _Maker:
    """Makes acts that share one writer and one writing time."""

    def __init__(self, doc: Doc) -> None:
        self._by = doc["written"]["by"]
        self._at = recorded_at(doc)
        self._stream = case_stream(doc["case"])
        self.instruments: Doc = doc.get("instruments", {})

    def __call__(
        self, type_: str, body: Doc, on: str | date, *, at: str = "", files: tuple[str, ...] = ()
    ) -> Act:
        day = parse_date(on) if isinstance(on, str) else on
        return Act(
            type_,
            body,
            day,
            self._by,
            self._at,
            happened_at=parse_instant(at) if at else None,
            files=files,
            version=ACT_TYPES[type_][0],
            stream=self._stream,
        )


def _session(doc: Doc) -> dict[str, Any]:
    roles = {k: ([v] if isinstance(v, str) else v) for k, v in doc["roles"].items()}
    return {
        "case": doc["case"],
        "job": doc.get("job", ""),
        "place": doc["place"]["name"],
        "employer": doc["employer"],
        "brazer": doc["brazer"]["person"],
        "mark": doc["brazer"]["mark"],
        "roles": roles,
    }


def _coupon(
    act: _Maker, coupon: Doc, files: CaseFiles, progress: Progress, place: str
) -> Iterator[Act]:
    brazed = coupon["brazed"]
    marking = coupon.get("marking", {})
    yield act(
        "CouponMarked",
        {"coupon": coupon["id"], "mark": coupon["mark"], **marking},
        marking["at"][:10] if marking.get("at") else brazed["on"],
        at=marking.get("at", ""),
    )
    yield act(
        "CouponBrazed",
        {
            "coupon": coupon["id"],
            "mark": coupon["mark"],
            "round": coupon.get("round", "first"),
            **_without(brazed, "on", "started"),
            **{k: coupon[k] for k in ("tube", "fitting", "filler")},
            "cleaning": coupon.get("cleaning", {}),
            "purge": coupon.get("purge", {}),
            "joints": [
                _without(j, "bore", "visual", "cut", "faces", "tests") for j in coupon["joints"]
            ],
        },
        brazed["on"],
        at=brazed.get("started", ""),
    )
    for number, joint in enumerate(coupon["joints"]):
        yield from _joint(act, joint, files, progress, f"{place}.joints[{number}]")


def _joint(
    act: _Maker, joint: Doc, files: CaseFiles, progress: Progress, place: str
) -> Iterator[Act]:
    bore = joint.get("bore", {})
    if "before_sawing" in bore:
        yield _look(
            act,
            "BoreExamined",
            joint,
            bore["before_sawing"],
            "before-sawing",
            files,
            f"{place}.bore.before_sawing",
        )
    if "visual" in joint:
        yield _look(
            act, "CouponExamined", joint, joint["visual"], "visual", files, f"{place}.visual"
        )
    if "cut" in joint:
        cut = joint["cut"]
        yield act("CouponSectioned", {"joint": joint["id"], **_without(cut, "on")}, cut["on"])
    if "opened" in bore:
        yield _look(
            act, "BoreExamined", joint, bore["opened"], "opened", files, f"{place}.bore.opened"
        )
    for test in joint.get("tests", ()):
        yield act(
            "SpecimenTested",
            {"specimen": test["id"], "joint": joint["id"], **_without(test, "id", "on")},
            test["on"],
        )
    for number, face in enumerate(joint.get("faces", ())):
        yield act(
            "FacePrepared",
            {
                "face": face["id"],
                "joint": joint["id"],
                "by": face.get("prepared_by", ""),
                **_without(face, "id", "prepared", "prepared_by", "readings"),
            },
            face["prepared"],
        )
        for r, reading in enumerate(face.get("readings", ())):
            here = f"{place}.faces[{number}].readings[{r}]"
            body, digests = read_filed_face(
                face["id"], reading, files, progress, where=here, instruments=act.instruments
            )
            yield act("FaceRead", body, reading["on"], files=digests)


def _look(
    act: _Maker, type_: str, joint: Doc, look: Doc, stage: str, files: CaseFiles, place: str
) -> Act:
    digests: tuple[str, ...] = ()
    if "photo" in look:
        digests = (files.read(look["photo"], where=f"{place}.photo")[0],)
    return act(
        type_,
        {"joint": joint["id"], "stage": stage, **_without(look, "on")},
        look["on"],
        files=digests,
    )


def _without(row: Doc, *keys: str) -> dict[str, Any]:
    return {k: v for k, v in row.items() if k not in keys}
