"""Paper records, instruments and credentials as JSON documents and as lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from lapwright.core.evidence import Doubt
from lapwright.core.outcomes import Outcome
from lapwright.core.paperfold import PaperRecord
from lapwright.rules.rulebook import Adopted

from .casereport import SHAPES, finding_document, verdict_document
from .credentials import CredentialRow
from .doubts import Touched
from .instruments import InstrumentRow
from .paperrecords import worth
from .text import outcome_word, say, word

_MARKS = {
    "in-date": SHAPES[Outcome.MET],
    "ended": SHAPES[Outcome.NOT_MET],
}


def paper_document(paper: PaperRecord, *, adopted: Adopted) -> dict[str, Any]:
    """Return a paper record with its worth as plain JSON."""
    verdict = worth(paper, adopted=adopted)
    return {
        "paper": paper.id,
        "person": paper.person,
        "employer": paper.employer,
        "document": paper.document,
        "provenance": dict(paper.body["provenance"]),
        "brazed": [d.isoformat() for d in paper.brazed],
        "typed_by": paper.typed_by,
        "typed_on": paper.typed_on.isoformat(),
        "scans": list(paper.files),
        "masked": list(paper.body.get("masked", ())),
        "checks": [
            {
                "by": c.by,
                "on": c.on.isoformat(),
                "outcome": c.outcome,
                "remark": c.remark,
                "employer": c.employer,
                "stale": c.stale,
                "files": list(c.files),
            }
            for c in paper.checks
        ],
        "variables": dict(paper.body.get("variables", {})),
        "ranges": dict(paper.body.get("ranges", {})),
        "results": dict(paper.body.get("results", {})),
        "codes": list(paper.body.get("codes", ())),
        "typed": {k: paper.body[k] for k in _typed_keys(paper)},
        "corrected": _fix_document(paper),
        **verdict_document(verdict),
        "findings": [finding_document(f) for f in verdict.findings],
        "act": paper.act,
    }


def paper_lines(paper: PaperRecord, *, adopted: Adopted) -> Iterator[str]:
    """Yield a paper record as lines for a terminal."""
    verdict = worth(paper, adopted=adopted)
    told = outcome_word(verdict.outcome, verdict.why)
    yield f"{SHAPES[verdict.outcome]} {told}  {paper.id}  {paper.person}  {paper.employer}"
    brazed = ", ".join(d.isoformat() for d in paper.brazed) or "–"
    yield f"  {word('paper.line.brazed', days=brazed)}"
    yield f"  {word('paper.line.typed', by=paper.typed_by, on=paper.typed_on.isoformat())}"
    for digest in paper.files:
        yield f"  {word('paper.line.scan', sha=digest)}"
    if paper.fix is not None:
        yield f"  {word('paper.line.fixed', **_fix_document(paper))}"
    for key in _typed_keys(paper):
        yield from _typed_lines(key, paper.body[key])
    yield ""
    for f in verdict.findings:
        yield f"{SHAPES[f.outcome]} {outcome_word(f.outcome, f.why)}: {say(f.message)}"


def _fix_document(paper: PaperRecord) -> dict[str, str]:
    fix = paper.fix
    return {"by": fix.by, "on": fix.on.isoformat(), "reason": fix.reason} if fix else {}


def _typed_keys(paper: PaperRecord) -> list[str]:
    """Return the keys of what was typed, without what the program filed beside it."""
    return [k for k in paper.body if k not in ("typed_by", "masked", "no_number")]


def _typed_lines(key: str, value: object) -> Iterator[str]:
    """Yield what was typed under a key; the keys of a mapping stand below it."""
    if not isinstance(value, Mapping):
        yield f"  {key}: {_shown(value)}"
        return
    yield f"  {key}:"
    for name, inner in value.items():
        yield f"    {name}: {_shown(inner)}"


def papers_lines(papers: Sequence[PaperRecord], *, adopted: Adopted) -> Iterator[str]:
    """Yield one line for each paper record."""
    if not papers:
        yield word("paper.none")
    for paper in papers:
        verdict = worth(paper, adopted=adopted)
        told = outcome_word(verdict.outcome, verdict.why)
        brazed = paper.brazed[0].isoformat() if paper.brazed else "–"
        yield (
            f"{SHAPES[verdict.outcome]} {paper.id:<16} {paper.person:<12} {brazed:<12}"
            f"{paper.employer:<26} {told}"
        )


def instrument_document(row: InstrumentRow) -> dict[str, Any]:
    """Return one instrument as plain JSON."""
    return {
        "instrument": row.id,
        "kind": row.kind,
        "resolution": row.resolution,
        "calibrated_on": row.calibrated_on.isoformat() if row.calibrated_on else "",
        "calibrated_until": row.calibrated_until.isoformat() if row.calibrated_until else "",
        "state": row.state,
        "days": "" if row.days is None else str(row.days),
        "says": state_word(row.state, row.days),
        "doubts": [doubt_document(d) for d in row.doubts],
    }


def instrument_lines(rows: Sequence[InstrumentRow]) -> Iterator[str]:
    """Yield one line for each instrument, and one for each doubt that stands."""
    if not rows:
        yield word("instrument.none")
    for row in rows:
        until = row.calibrated_until.isoformat() if row.calibrated_until else "–"
        yield (
            f"{_mark(row.state)} {row.id:<12} {row.kind:<22} {row.resolution:<12} {until:<12}"
            f"{state_word(row.state, row.days)}"
        )
        for doubt in row.doubts:
            yield f"    {doubt_line(doubt)}"


def doubt_document(doubt: Doubt) -> dict[str, str]:
    """Return a doubt as plain JSON."""
    return {
        "doubt": doubt.id,
        "about": doubt.about,
        "by": doubt.by,
        "reason": doubt.reason,
        "since": doubt.since.isoformat() if doubt.since else "",
        "found_on": doubt.found_on.isoformat(),
        "cleared_on": doubt.cleared_on.isoformat() if doubt.cleared_on else "",
        "cleared_by": doubt.cleared_by,
        "cleared_reason": doubt.cleared_reason,
    }


def doubt_line(doubt: Doubt) -> str:
    """Return a doubt as one line."""
    since = doubt.since.isoformat() if doubt.since else "–"
    return word(
        "instrument.line.doubt",
        doubt=doubt.id,
        since=since,
        found=doubt.found_on.isoformat(),
        by=doubt.by,
        reason=doubt.reason,
    )


def touched_document(rows: Sequence[Touched]) -> list[dict[str, str]]:
    """Return what an instrument has touched as plain JSON."""
    return [
        {
            "on": r.on.isoformat(),
            "case": r.case,
            "kind": r.kind,
            "id": r.id,
            "what": r.what,
            "by": r.by,
            "act": r.act,
        }
        for r in rows
    ]


def touched_lines(rows: Sequence[Touched]) -> Iterator[str]:
    """Yield what an instrument has touched as a table."""
    if not rows:
        yield word("instrument.touched.none")
        return
    yield word("instrument.touched.some", number=str(len(rows)))
    for r in rows:
        yield f"△ {r.on.isoformat()}  {r.case:<14} {r.kind:<10} {r.id:<14} {r.what:<18} {r.by}"


def credential_document(row: CredentialRow) -> dict[str, str]:
    """Return one credential as plain JSON."""
    return {
        "person": row.person,
        "kind": row.kind,
        "issuer": row.issuer,
        "until": row.until.isoformat(),
        "state": row.state,
        "days": str(row.days),
        "says": state_word(row.state, row.days),
        "remark": row.remark,
    }


def credential_lines(rows: Sequence[CredentialRow]) -> Iterator[str]:
    """Yield one line for each credential."""
    if not rows:
        yield word("credential.none")
    for row in rows:
        yield (
            f"{_mark(row.state)} {row.person:<12} {row.kind:<26} {row.issuer:<26}"
            f"{row.until.isoformat()}  {state_word(row.state, row.days)}"
        )


def state_word(state: str, days: int | None) -> str:
    """Return a state in words with its days."""
    if state in ("doubted", "no-date"):
        return word(f"register.{state}")
    return word(f"register.{state}-days", days=str(abs(days or 0)))


def _mark(state: str) -> str:
    return _MARKS.get(state, SHAPES[Outcome.UNDETERMINED])


def _shown(value: object) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{k} {v}" for k, v in value.items())
    return ", ".join(value) if isinstance(value, list | tuple) else str(value)
