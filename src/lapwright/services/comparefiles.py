"""The two sides of a comparison: read from a paper, a procedure, a case or a record.

What a test proves is reckoned with the rules of the *new* employer's basis; what
the paper prints as its range stands in only where the figure itself is missing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core import evidence as ev
from lapwright.core.acts import Act
from lapwright.core.fold import fold
from lapwright.core.outcomes import Verdict
from lapwright.core.paperfold import PaperRecord, paper_of
from lapwright.core.standing import Standing
from lapwright.core.times import parse_date
from lapwright.reference.fillers import filler
from lapwright.reference.strictyaml import read_yaml
from lapwright.rules.decision import adopt
from lapwright.rules.paperstanding import TEST_RECORD
from lapwright.rules.responsibility import KeyHolder
from lapwright.rules.rulebook import Adopted
from lapwright.rules.sidebyside import Side

from . import schema
from .casefolder import ticks_of
from .comparewalls import Reckoning, procedure_spans, tested_spans, typed_spans
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
    braze dates of coupons with a joint that passed, ``left_out`` the coupons without one;
    ``record`` is there where a record's PDF was read, ``signer`` certified it by key;
    ``names`` stand behind ids where they are known.
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
    names: Mapping[str, str] = field(default_factory=dict)
    record: RecordFile | None = None
    signer: KeyHolder | None = None

    @property
    def number(self) -> str:
        """Number and revision of an issued record; empty for anything else."""
        return f"{self.record.number}-r{self.record.revision}" if self.record else ""


@dataclass(frozen=True)
class Present:
    """The new employer's procedure with the basis that it is judged under."""

    side: Side
    adopted: Adopted
    basis: ev.Basis
    names: Mapping[str, str] = field(default_factory=dict)

    @property
    def under(self) -> Reckoning:
        """What the ranges of both sides are reckoned with."""
        return Reckoning(self.adopted, self.basis.thickness_readings)


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
    under = Reckoning(adopted, evidence.basis.thickness_readings)
    side = _procedure_side(doc["employer"], evidence.procedure, joint_types, under)
    names = {person: row["name"] for person, row in doc["people"].items() if row.get("name")}
    return Present(side, adopted, evidence.basis, names)


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
    path: Path, *, as_of: date, under: Reckoning, progress: Progress | None = None
) -> Former:
    """Return the former employer's side from a file or a folder.

    Parameters
    ----------
    path : Path
        A paper's YAML, a procedure's YAML, a case folder, or a record's PDF.
    as_of : date
        The civil day asked about.
    under : Reckoning
        The new employer's editions and readings, which reckon the ranges.
    progress : callable, optional
        Told before each photograph of a case is measured.

    Raises
    ------
    LapwrightError
        PAPER-011 for another file; what each form refuses otherwise.
    """
    if path.is_file() and path.read_bytes()[:5] == b"%PDF-":
        return _of_record(path, under)
    if path.is_dir():
        case = judge_case(path, as_of=as_of, progress=progress)
        found = _of_judged(case.judged, under, f"case folder {path.name}")
        people = case.loaded.document["people"]
        return replace(found, names={p: row.get("name", "") for p, row in people.items()})
    doc, where = _document(path)
    if doc.get("schema") == "lapwright-paper/1":
        return of_paper(_typed(read_paper(path)), under, path.name)
    if doc.get("schema") == "lapwright-procedure/1":
        schema.check(doc, "procedure", where=where)
        return _of_procedure(doc, as_of, under, path.name)
    raise _other(path, "a paper, a procedure, a case folder or a record's PDF")


def _typed(doc: Doc) -> PaperRecord:
    """Return a paper that is not in a ledger: nobody has compared or confirmed it."""
    body = {k: v for k, v in doc.items() if k not in ("schema", "typed", "scan")}
    on = parse_date(doc["typed"]["on"])
    at = recorded_at({"written": {"on": doc["typed"]["on"]}})
    by = doc["typed"]["by"]
    act = Act("PaperRecordEntered", {**body, "typed_by": by}, on, by, at)
    return paper_of(Standing(act, act))


def of_paper(paper: PaperRecord, under: Reckoning, source: str) -> Former:
    """Return the side of a typed paper record.

    Parameters
    ----------
    paper : PaperRecord
        The record with its checks.
    under : Reckoning
        The new employer's editions and readings.
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
    spans, notes = typed_spans(v, ranges, under)
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


def _of_record(path: Path, under: Reckoning) -> Former:
    """Return the side of an issued record, with who certified it by key."""
    from .recordfile import judge_again, opened_record
    from .signaturewords import certifier, fingerprint, holder

    report, parts = opened_record(path)
    number, revision = str(parts.data["number"]), str(parts.data["revision"])
    found = _of_judged(judge_again(parts), under, f"record {path.name}")
    seen = certifier(report.signatures)
    return replace(
        found,
        names={p: row["name"] for p, row in parts.data["names"].items()},
        record=RecordFile(number, revision, report.file_sha256, path.name),
        signer=KeyHolder(holder(seen), fingerprint(seen.certificate)) if seen else None,
    )


def _of_judged(judged: Judged, under: Reckoning, source: str) -> Former:
    evidence, tests = judged.judgement.evidence, judged.judgement.tests
    procedure = evidence.procedure
    words = {
        name: tuple(sorted({getattr(t, name) for t in tests if getattr(t, name)}))
        for name in ("process", "manner", "joint_type", "f_number", "form", "flux")
    }
    words["p_numbers"] = tuple(sorted({"-".join(t.p_numbers) for t in tests}))
    words["positions"] = tuple(sorted({t.position for t in tests}))
    spans, notes = tested_spans(tests, under)
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


def _of_procedure(doc: Doc, as_of: date, under: Reckoning, source: str) -> Former:
    evidence = fold([_filed(doc["procedure"], doc["written"]["by"], recorded=doc)], as_of=as_of)
    if evidence.procedure is None:
        raise _other(Path(source), f"a procedure signed by {as_of}")
    side = _procedure_side(doc["employer"], evidence.procedure, _joint_types(doc), under)
    bps = evidence.procedure.id
    return Former(bps, "", "", evidence.procedure.process, (), side, (bps,), source=source)


def _procedure_side(
    employer: str, procedure: ev.Procedure, joint_types: tuple[str, ...], under: Reckoning
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
    spans = procedure_spans(pqrs, under)
    return Side(employer, procedure.id, words, spans, dict(_topics(procedure)))


def _topics(procedure: ev.Procedure) -> Iterable[tuple[str, str]]:
    for topic in ("cleaning", "purge-gas", "purge-flow"):
        yield topic, procedure.topics.get(topic, "")
    window = procedure.clearance
    said = f"{window[0].text} to {window[1].text}" if window else ""
    yield "clearance", said or procedure.topics.get("clearance", "")


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
