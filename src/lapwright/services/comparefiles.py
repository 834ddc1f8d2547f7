"""The two sides of a comparison: read from a paper, a procedure, a case or a record.

What a test proves is reckoned with the rules of the *new* employer's basis; what
the paper prints as its range stands in only where the figure itself is missing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core import evidence as ev
from lapwright.core.acts import Act
from lapwright.core.fold import fold
from lapwright.core.outcomes import Verdict
from lapwright.core.paperfold import PaperRecord, paper_of
from lapwright.core.quantities import Quantity, length
from lapwright.core.standing import Standing
from lapwright.core.times import parse_date
from lapwright.reference.fillers import filler
from lapwright.reference.strictyaml import read_yaml
from lapwright.rules.decision import adopt
from lapwright.rules.paperstanding import TEST_RECORD
from lapwright.rules.ranges import TestedJoint, overlap_ceiling
from lapwright.rules.rulebook import Adopted, Rule
from lapwright.rules.sidebyside import Side, Span
from lapwright.rules.thickness import range_of_wall

from . import schema
from .casefolder import ticks_of
from .emit import recorded_at
from .errors import CompareFileRefused
from .judging import Judged, judge_case
from .paperrecords import read_paper
from .recordlooked import RecordFile

Doc = Mapping[str, Any]
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Former:
    """What the former employer's paper brings: test, braze dates, worth of the paper.

    ``paper`` is there for a typed record, ``verdict`` for a case or a record of this
    program; ``document`` is empty where there is a procedure and no test. ``brazed`` are the
    braze dates of coupons with a joint that passed, ``left_out`` the coupons without one.
    ``record`` is there where a record's PDF was read.
    """

    id: str
    person: str
    document: str
    process: str
    brazed: tuple[date, ...]
    side: Side
    procedures: tuple[str, ...]
    paper: PaperRecord | None = None
    source: str = ""
    verdict: Verdict | None = None
    left_out: tuple[tuple[str, date], ...] = ()
    record: RecordFile | None = None


@dataclass(frozen=True)
class Present:
    """The new employer's procedure with the basis that it is judged under."""

    side: Side
    adopted: Adopted
    basis: ev.Basis
    people: tuple[str, ...] = field(default=())


def read_present(path: Path, *, as_of: date) -> Present:
    """Return the new employer's side: a case folder's procedure, or a procedure's YAML.

    Parameters
    ----------
    path : Path
        Folder with ``case.yaml``, or a file of the schema ``lapwright-procedure/1``.
    as_of : date
        The civil day asked about.

    Raises
    ------
    LapwrightError
        PAPER-011 for another file, CASE-002 for keys, RULE codes for editions.
    """
    doc, where = _document(path)
    if doc.get("schema") == "lapwright-case/1":
        schema.check(doc, "case", where=where)
    elif doc.get("schema") == "lapwright-procedure/1":
        schema.check(doc, "procedure", where=where)
    else:
        raise _other(path, "a case folder, or a file 'schema: lapwright-procedure/1'")
    if "basis" not in doc:
        raise _other(path, "a basis that names the editions of the new employer")
    folder = path if path.is_dir() else path.parent
    evidence = fold(_acts(doc, folder), as_of=as_of)
    adopted = adopt(evidence)
    assert evidence.basis is not None
    if evidence.procedure is None:
        raise _other(path, f"a procedure signed by {as_of}")
    joint_types = _joint_types(doc)
    side = _procedure_side(doc["employer"], evidence.procedure, joint_types, adopted)
    return Present(side, adopted, evidence.basis, tuple(doc["people"]))


def _acts(doc: Doc, folder: Path) -> Iterable[Act]:
    """Yield basis, ticks and procedure as the acts that a case emits."""
    by, at, basis = doc["written"]["by"], recorded_at(doc), doc["basis"]
    kept = {k: v for k, v in basis.items() if k not in ("adopted_on", "range_tables", "booklet")}
    yield Act("BasisAdopted", kept, parse_date(basis["adopted_on"]), by, at)
    yield from ticks_of({"case": doc["procedure"]["bps"], **doc}, folder)
    yield _filed(doc["procedure"], by, recorded=doc)


def _filed(procedure: Doc, by: str, *, recorded: Doc) -> Act:
    signed = procedure.get("signed", {}).get("on") or recorded["written"]["on"]
    body = {"procedure": procedure["bps"], **{k: v for k, v in procedure.items() if k != "bps"}}
    return Act("ProcedureFiled", body, parse_date(signed), by, recorded_at(recorded))


def _joint_types(doc: Doc) -> tuple[str, ...]:
    coupons = {c["brazed"].get("joint_type", "") for c in doc.get("coupons", ())}
    named = doc["procedure"].get("joint_type", "")
    return tuple(sorted({*coupons, named} - {""}))


def read_former(
    path: Path, *, as_of: date, adopted: Adopted, progress: Progress | None = None
) -> Former:
    """Return the former employer's side from a file or a folder.

    Parameters
    ----------
    path : Path
        A paper's YAML, a procedure's YAML, a case folder, or a record's PDF.
    as_of : date
        The civil day asked about.
    adopted : Adopted
        The new employer's editions, which reckon the ranges.
    progress : callable, optional
        Told before each photograph of a case is measured.

    Raises
    ------
    LapwrightError
        PAPER-011 for another file; what each form refuses otherwise.
    """
    if path.is_file() and path.read_bytes()[:5] == b"%PDF-":
        return _of_record(path, adopted)
    if path.is_dir():
        judged = judge_case(path, as_of=as_of, progress=progress).judged
        return _of_judged(judged, adopted, f"case folder {path.name}")
    doc, where = _document(path)
    if doc.get("schema") == "lapwright-paper/1":
        return of_paper(_typed(read_paper(path)), adopted, path.name)
    if doc.get("schema") == "lapwright-procedure/1":
        schema.check(doc, "procedure", where=where)
        return _of_procedure(doc, as_of, adopted, path.name)
    raise _other(path, "a paper, a procedure, a case folder or a record's PDF")


def _of_record(path: Path, adopted: Adopted) -> Former:
    from .recordfile import judge_again, read_file, whole_parts

    parts = whole_parts(path)
    sha256 = hashlib.sha256(read_file(path)).hexdigest()
    held = RecordFile(str(parts.data["number"]), str(parts.data["revision"]), sha256, path.name)
    former = _of_judged(judge_again(parts), adopted, f"record {path.name}")
    return replace(former, record=held)


def _typed(doc: Doc) -> PaperRecord:
    """Return a paper that is not in a ledger: nobody has compared or confirmed it."""
    body = {k: v for k, v in doc.items() if k not in ("schema", "typed", "scan")}
    on = parse_date(doc["typed"]["on"])
    at = recorded_at({"written": {"on": doc["typed"]["on"]}})
    by = doc["typed"]["by"]
    act = Act("PaperRecordEntered", {**body, "typed_by": by}, on, by, at)
    return paper_of(Standing(act, act))


def of_paper(paper: PaperRecord, adopted: Adopted, source: str) -> Former:
    """Return the side of a typed paper record.

    Parameters
    ----------
    paper : PaperRecord
        The record with its checks.
    adopted : Adopted
        The new employer's editions.
    source : str
        Where it was read, for the page.
    """
    v: Doc = paper.body.get("variables", {})
    ranges: Doc = paper.body.get("ranges", {})
    metals = "-".join(v.get("p_numbers", ()))
    f_number = v.get("f_number", "") or (
        filler(v["filler"]).f_number or "" if v.get("filler") else ""
    )
    names = ("process", "manner", "joint_type", "form", "flux")
    single = {k: v.get(k, "") for k in names} | {"p_numbers": metals, "f_number": f_number}
    words: dict[str, tuple[str, ...]] = {k: (w,) for k, w in single.items() if w}
    words["positions"] = tuple(v.get("positions", ()))
    spans: dict[str, tuple[Span, ...]] = {}
    notes: dict[str, str] = {}
    for name in ("tube_wall", "fitting_wall"):
        spans[name], notes[name] = _wall(v.get(name, ""), ranges.get(name, {}), adopted)
    spans["overlap"], notes["overlap"] = _ceiling(
        v.get("overlap", ""), ranges.get("overlap_up_to", ""), adopted
    )
    topics = {
        "cleaning": v.get("cleaning", ""),
        "clearance": v.get("clearance", ""),
        "purge-gas": v.get("purge_gas", ""),
        "purge-flow": v.get("purge_flow", ""),
    }
    bps = paper.body.get("procedure", {}).get("bps", "")
    side = Side(paper.employer, bps, words, spans, topics, notes)
    named = (bps,) if bps else ()
    return Former(
        paper.id,
        paper.person,
        paper.document,
        v.get("process", ""),
        paper.brazed,
        side,
        named,
        paper,
        source,
    )


def _of_judged(judged: Judged, adopted: Adopted, source: str) -> Former:
    evidence, tests = judged.judgement.evidence, judged.judgement.tests
    procedure = evidence.procedure
    words = {
        name: tuple(sorted({getattr(t, name) for t in tests if getattr(t, name)}))
        for name in ("process", "manner", "joint_type", "f_number", "form", "flux")
    }
    words["p_numbers"] = tuple(sorted({"-".join(t.p_numbers) for t in tests}))
    words["positions"] = tuple(sorted({t.position for t in tests}))
    spans, notes = _tested_spans(tests, adopted)
    topics = dict(_topics(procedure)) if procedure else {}
    bps = procedure.id if procedure else ""
    passed = {t.coupon for t in tests}  # a failed coupon qualifies nothing and opens no clock
    brazed = tuple(sorted({c.brazed_on for c in evidence.coupons if c.id in passed}))
    return Former(
        id=evidence.case,
        person=evidence.brazer,
        document=TEST_RECORD,
        process=words["process"][0] if words["process"] else "",
        brazed=brazed,
        side=Side(evidence.employer, bps, words, spans, topics, notes),
        procedures=(bps,) if bps else (),
        source=source,
        verdict=judged.judgement.verdict,
        left_out=tuple((c.id, c.brazed_on) for c in evidence.coupons if c.id not in passed),
    )


def _of_procedure(doc: Doc, as_of: date, adopted: Adopted, source: str) -> Former:
    evidence = fold([_filed(doc["procedure"], doc["written"]["by"], recorded=doc)], as_of=as_of)
    if evidence.procedure is None:
        raise _other(Path(source), f"a procedure signed by {as_of}")
    side = _procedure_side(doc["employer"], evidence.procedure, _joint_types(doc), adopted)
    bps = evidence.procedure.id
    return Former(bps, "", "", evidence.procedure.process, (), side, (bps,), source=source)


def _procedure_side(
    employer: str, procedure: ev.Procedure, joint_types: tuple[str, ...], adopted: Adopted
) -> Side:
    pqrs = procedure.pqrs
    flux = (procedure.flux,) if procedure.flux else tuple({p.flux for p in pqrs if p.flux})
    words = {
        "process": (procedure.process,) if procedure.process else (),
        "manner": (procedure.manner,) if procedure.manner else (),
        "joint_type": joint_types,
        "p_numbers": tuple(sorted({"-".join(p.p_numbers) for p in pqrs if p.p_numbers})),
        "f_number": tuple(sorted({p.f_number for p in pqrs if p.f_number})),
        "form": tuple(sorted({p.form for p in pqrs if p.form})),
        "flux": flux,
        "positions": procedure.positions or tuple(sorted({x for p in pqrs for x in p.positions})),
    }
    overlaps = [p.overlap for p in pqrs if p.overlap is not None]
    spans = {
        "tube_wall": _walls([p.tube_wall for p in pqrs], adopted),
        "fitting_wall": _walls([p.fitting_wall for p in pqrs], adopted),
        "overlap": (Span(min(overlaps), None),) if overlaps else (),
    }
    return Side(employer, procedure.id, words, spans, dict(_topics(procedure)))


def _topics(procedure: ev.Procedure) -> Iterable[tuple[str, str]]:
    for topic in ("cleaning", "purge-gas", "purge-flow"):
        yield topic, procedure.topics.get(topic, "")
    window = procedure.clearance
    said = f"{window[0].text} to {window[1].text}" if window else ""
    yield "clearance", said or procedure.topics.get("clearance", "")


def _bands(adopted: Adopted) -> Rule | None:
    return next((r for r in adopted.all("thickness.bands") if r.value is not None), None)


def _walls(walls: Sequence[Quantity | None], adopted: Adopted) -> tuple[Span, ...]:
    bands = _bands(adopted)
    if bands is None:
        return ()
    found = [range_of_wall(w, bands) for w in walls if w is not None]
    return tuple(Span(r.low, r.high) for r in found)


def _wall(typed: str, printed: Doc, adopted: Adopted) -> tuple[tuple[Span, ...], str]:
    if typed:
        return _walls([length(typed)], adopted), f"coupon {typed}"
    if printed:
        return (Span(length(printed["low"]), length(printed["high"])),), "as printed"
    return (), ""


def _ceiling(typed: str, printed: str, adopted: Adopted) -> tuple[tuple[Span, ...], str]:
    rules = [r for r in adopted.all("overlap.max_increase") if r.value is not None]
    if typed and rules:
        return (Span(None, min(overlap_ceiling(length(typed), r) for r in rules)),), (
            f"coupon {typed}"
        )
    return ((Span(None, length(printed)),), "as printed") if printed else ((), "")


def _tested_spans(
    tests: Sequence[TestedJoint], adopted: Adopted
) -> tuple[dict[str, tuple[Span, ...]], dict[str, str]]:
    """Return what joints that passed prove; of the overlap the least of each position counts."""
    least: dict[str, list[Quantity]] = {}
    for test in tests:
        if test.overlap is not None:
            least.setdefault(test.position, []).append(test.overlap)
    overlap = min((min(found) for found in least.values()), default=None)
    tubes = [t.walls.tube for t in tests]
    fits = [t.walls.fitting for t in tests]
    spans = {"tube_wall": _walls(tubes, adopted), "fitting_wall": _walls(fits, adopted)}
    spans["overlap"], note = _ceiling(overlap.text if overlap else "", "", adopted)
    notes = {"tube_wall": _coupon(tubes), "fitting_wall": _coupon(fits), "overlap": note}
    return spans, notes


def _coupon(walls: Iterable[Quantity | None]) -> str:
    shown = ", ".join(sorted({w.text for w in walls if w is not None}))
    return f"coupon {shown}" if shown else ""


def _document(path: Path) -> tuple[Doc, str]:
    file = path / "case.yaml" if path.is_dir() else path
    doc = read_yaml(file)
    if not isinstance(doc, dict):
        raise _other(path, "keys and values")
    return doc, file.name


def _other(path: Path, expected: str) -> CompareFileRefused:
    return CompareFileRefused(
        "not a file that can be compared",
        got=path.name,
        expected=expected,
        do="Name another file; the how-to 'compare two procedures' shows each form.",
    )
