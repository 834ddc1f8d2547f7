"""The answer of cover as JSON, CSV and lines: every cell with its word, reasons where asked."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from typing import Any

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.rules.coverparts import FAILED, MET, STRICT, Answer

from .bothunits import in_both_units
from .cover import JobCover
from .coverpeople import Brazer
from .text import outcome_word, say, word

MOST_REASONS = 20_000  # cells; a reason takes about a millisecond
_LENGTHS = ("overlap.max_increase", "overlap.procedure_floor")


def state_word(state: int) -> str:
    """Return the word of a cell: Met, Not met or Open."""
    if state == MET:
        return outcome_word(Outcome.MET)
    return outcome_word(Outcome.NOT_MET) if state == FAILED else word("cover.open")


def reason_of(answer: Answer) -> str:
    """Return why a cell is not plainly covered, or what a covered one rests on.

    Parameters
    ----------
    answer : Answer
        The cell.
    """
    if answer.state == MET:
        return word("cover.by", record=answer.by)
    if answer.lacks:
        parts = [_lack(k.finding, float(k.by)) for k in answer.lacks]
        return joined([*parts, *_gate(answer)])
    told = [*_gate(answer), *(say(f.message) for f in _open(answer))]
    return in_both_units(joined(told)) or outcome_word(answer.verdict.outcome, answer.verdict.why)


def _lack(finding: Finding, by: float) -> str:
    """Return one variable that is missing, with its excess."""
    told = in_both_units(say(finding.message))
    return word("cover.lack.by", told=_bare(told), percent=f"{100 * by:.1f} %") if by else told


def joined(parts: Iterable[str]) -> str:
    """Return sentences as one, each once and without its full stop."""
    return "; ".join(dict.fromkeys(_bare(p) for p in parts))


def _bare(told: str) -> str:
    return told[:-1] if told.endswith(".") else told


def _gate(answer: Answer) -> list[str]:
    """Return what keeps the whole qualification from counting: not in force, not certified."""
    range_ = answer.alone.findings if answer.alone is not None else ()
    gate = [f for f in answer.verdict.findings if f not in range_]
    return [say(f.message) for f in gate if f.outcome is not Outcome.MET]


def _open(answer: Answer) -> list[Finding]:
    range_ = answer.alone.findings if answer.alone is not None else answer.verdict.findings
    return [f for f in range_ if f.outcome is not Outcome.MET and f.why is not Why.UNCONFIRMED] or [
        f for f in range_ if f.outcome is not Outcome.MET
    ][:1]


def cell_row(found: JobCover, brazer: Brazer, line: int) -> dict[str, Any]:
    """Return one cell as plain JSON, with its reason."""
    answer = found.answer(brazer, line)
    verdict = answer.verdict
    return {
        "class": answer.about,
        "person": brazer.id,
        "outcome": verdict.outcome.value,
        "why": verdict.why.value if verdict.why is not None else "",
        "act_on": verdict.act_on.value if verdict.act_on is not None else "",
        "if_confirmed": verdict.before_confirmation.value,
        "range_alone": answer.alone.outcome.value if answer.alone is not None else "",
        "word": found.assign(brazer, line),
        "nearest": answer.by,
        "missing": [
            {"rule": k.finding.rule, "says": say(k.finding.message), "by": f"{float(k.by):.4f}"}
            for k in answer.lacks
        ],
        "reason": reason_of(answer),
        "cites": list(dict.fromkeys(str(c) for f in verdict.findings for c in f.cites)),
    }


def cover_document(found: JobCover) -> dict[str, Any]:
    """Return the answer as plain JSON; reasons of every cell while they are not too many."""
    q = found.question
    return {
        "as_of": q.as_of.isoformat(),
        "known_by": q.known_by.isoformat() if q.known_by else "",
        "employer": found.holders.employer,
        "list": found.joints.name,
        "classes": [_class_row(found, i) for i in range(len(found.classes))],
        "people": [_person_row(found, b) for b in found.brazers],
        "cells": list(_cells(found)),
        "matrix": {b.id: _letters(found, b) for b in found.brazers},
        "nobody": [found.classes[i].about.id for i in found.uncovered()],
        "faults": [f.as_dict() for f in found.joints.faults],
        "asked": [word(f"joints.ask.{name}") for name in found.joints.missing],
    }


def _cells(found: JobCover) -> Iterator[dict[str, Any]]:
    lines = len(found.classes)
    if lines * len(found.brazers) <= MOST_REASONS:
        for i in range(lines):
            yield from (cell_row(found, b, i) for b in found.brazers)


def _letters(found: JobCover, brazer: Brazer) -> str:
    """Return a person's line of the matrix: M met, O open, S open with a refusal, N not met."""
    return "".join("MOSN"[found.now.state(brazer.id, i)] for i in range(len(found.classes)))


def _class_row(found: JobCover, line: int) -> dict[str, Any]:
    made = found.classes[line]
    a = made.about
    return {
        "id": a.id,
        "size": a.size,
        "tube": f"{a.tube} {a.tube_type}",
        "fitting": a.fitting,
        "overlap": made.overlap,
        "filler": a.filler,
        "flux": a.flux,
        "position": a.position,
        "metals": list(made.metals),
        "procedure": a.procedure,
        "joints": str(a.count),
        "rows": made.joints,
        "findings": [
            {
                "rule": f.rule,
                "outcome": f.outcome.value,
                "says": say(f.message),
                "cites": [str(c) for c in f.cites],
            }
            for f in found.about[line]
        ],
    }


def _person_row(found: JobCover, brazer: Brazer) -> dict[str, Any]:
    return {
        "id": brazer.id,
        "name": brazer.name,
        "mark": brazer.mark,
        "runs_out": brazer.ends.isoformat() if brazer.ends else "",
        "installer": [say(f.message) for f in brazer.install],
        "lost_by_the_later_day": [found.classes[i].about.id for i in found.lost(brazer)],
    }


def matrix_csv(found: JobCover) -> bytes:
    """Return the matrix as CSV: one line a class, one column a person, a word in each cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    heads = ("class", "size", "tube", "fitting", "overlap", "filler", "flux", "position")
    people = [b.shown for b in found.brazers]
    told_heads = (word(f"cover.column.{h}") for h in (*heads, "joints"))
    writer.writerow([*told_heads, *people])
    for i, made in enumerate(found.classes):
        a = made.about
        told = (a.id, a.size, f"{a.tube} {a.tube_type}", a.fitting, made.overlap)
        cells = [state_word(found.now.state(b.id, i)) for b in found.brazers]
        writer.writerow([*map(_plain, (*told, a.filler, a.flux, a.position)), a.count, *cells])
    return out.getvalue().encode()


def reasons_csv(found: JobCover) -> bytes:
    """Return a line a cell with its reason, or a line a class (its nearest person) of many."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    names = ("class", "person", "outcome", "nearest", "reason")
    writer.writerow([word(f"cover.column.{n}") for n in names])
    few = len(found.classes) * len(found.brazers) <= MOST_REASONS
    names_of = {b.id: b.shown for b in found.brazers}
    for i in range(len(found.classes)):
        cells = [found.answer(b, i) for b in found.brazers] if few else [found.nearest(i)]
        for a in cells:
            told = outcome_word(a.verdict.outcome, a.verdict.why)
            row = (a.about, names_of[a.person], told, a.by, reason_of(a))
            writer.writerow([_plain(t) for t in row])
    return out.getvalue().encode()


def _plain(text: str) -> str:
    """Return a cell that no spreadsheet runs as a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t") else text


def cover_lines(found: JobCover) -> Iterator[str]:
    """Yield the answer as lines for a terminal."""
    q = found.question
    yield word(
        "cover.head",
        classes=str(len(found.classes)),
        joints=str(found.joints.joints),
        people=str(len(found.brazers)),
        on=q.as_of.isoformat(),
        employer=found.holders.employer,
    )
    wide = max(len(c.label) for c in found.classes)
    for i, made in enumerate(found.classes):
        a = made.about
        met = [b.mark or b.id for b in found.brazers if found.now.state(b.id, i) == MET]
        told = ", ".join(met) or _nobody_line(found, i)
        yield f"{a.id}  {made.label:<{wide}}  {a.filler} {a.flux} {a.position}  ×{a.count}  {told}"
    for made, findings in zip(found.classes, found.about, strict=True):
        for f in (f for f in findings if f.outcome is not Outcome.MET):
            yield f"{made.about.id}  {outcome_word(f.outcome, f.why)}: {say(f.message)}"
    if found.later is not None and q.later is not None:
        yield from _later(found, q.later.isoformat())
    if found.joints.missing:
        yield word("joints.asked")
        yield from (f"  {word(f'joints.ask.{n}')}" for n in found.joints.missing)
    yield word("caution.governs")


def _nobody_line(found: JobCover, line: int) -> str:
    answer = found.nearest(line)
    open_ = sum(1 for b in found.brazers if 0 < found.now.state(b.id, line) < STRICT + 1)
    return word("cover.nobody", open=str(open_), person=answer.person, reason=reason_of(answer))


def _later(found: JobCover, day: str) -> Iterator[str]:
    yield word("cover.later", on=day)
    for b in found.brazers:
        lost = found.lost(b)
        if lost:
            ids = ", ".join(found.classes[i].about.id for i in lost)
            yield word("cover.lost", person=b.shown, classes=ids)
    if not any(found.lost(b) for b in found.brazers):
        yield word("cover.nothing_lost")
