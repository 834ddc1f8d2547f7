"""What a case or a record covers: variables, then sizes and fittings, each with its reason."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.outcomes import Outcome, Why
from lapwright.rules.joblist import ListedSize, names_of_sets, sets_of_variables
from lapwright.rules.positions import positions_covered
from lapwright.rules.ranges import TestedJoint, least_overlap, needed_together, overlap_ceiling
from lapwright.rules.rulebook import Adopted, Rule
from lapwright.rules.thickness import (
    CouponWalls,
    WallRange,
    fitting_range,
    overlap_of_ranges,
    range_of_wall,
)

from .judging import Judged, judge_case
from .text import outcome_word, say, word

POSITION_ORDER = "ABCD"
RANK = {"met": 0, "undetermined": 1, "not-met": 2}


def variable_rows(judged: Judged) -> list[dict[str, str]]:
    """Return one row per essential variable: actual values beside the qualified range.

    Joints brazed with other variables (process, filler, form, metals) stand in
    rows of their own: nothing that one set qualifies is lent to another.
    """
    judgement = judged.judgement
    rows: list[dict[str, str]] = []
    sets = sets_of_variables(judgement.tests)
    names = names_of_sets(list(sets))
    for key, tests in sets.items():
        told = f" ({names[key]})" if names[key] else ""
        rows += [r | {"variable": r["variable"] + told} for r in _rows_of(tests, judged)]
    return rows + _floor(judged) if rows else []


def _rows_of(tests: Sequence[TestedJoint], judged: Judged) -> list[dict[str, str]]:
    """Return the rows of joints that share one set of variables."""
    adopted = judged.judgement.adopted
    rows = [
        _row(name, rule, _each(tests, field), _each(tests, field), adopted)
        for name, rule, field in _SAME
    ]
    p_numbers = ", ".join(sorted({"-".join(t.p_numbers) for t in tests}))
    rows.append(_row("variable.p_number", "variable.p_number", p_numbers, p_numbers, adopted))
    letters = sorted({t.position for t in tests})
    covered = ", ".join(sorted(positions_covered(letters, adopted=adopted)))
    shown = ", ".join(letters)
    rows.append(_row("variable.position", "position.covers", shown, covered, adopted))
    return rows + _thickness(tests, judged) + _overlap(tests, adopted)


_SAME = (
    ("variable.process", "variable.process", "process"),
    ("variable.manner", "variable.machine", "manner"),
    ("variable.joint_type", "variable.joint_type", "joint_type"),
    ("variable.f_number", "variable.f_number", "f_number"),
    ("variable.form", "variable.product_form", "form"),
)


def _each(tests: Sequence[TestedJoint], field: str) -> str:
    return ", ".join(sorted({str(getattr(t, field)) for t in tests}))


def _row(
    name: str, rule: str, actual: str, qualified: str, adopted: Adopted, note: str = ""
) -> dict[str, str]:
    cites = "; ".join(dict.fromkeys(str(r.cite) for r in adopted.all(rule)))
    return {
        "variable": word(name),
        "actual": actual,
        "qualified": qualified,
        "cite": cites,
        "note": note,
    }


def _thickness(tests: Sequence[TestedJoint], judged: Judged) -> list[dict[str, str]]:
    adopted, basis = judged.judgement.adopted, judged.judgement.evidence.basis
    rules = [r for r in adopted.all("thickness.bands") if r.value is not None]
    if not rules or basis is None:
        return []
    readings = basis.thickness_readings
    groups = needed_together(tests)
    tubes = [[_tube_range(t.walls, rules[0]) for t in g] for g in groups]
    fits = [[fitting_range(t.walls, readings, rules[0]) for t in g] for g in groups]
    rows = []
    for name, field, found in (
        ("variable.tube_wall", "tube", tubes),
        ("variable.fitting_wall", "fitting", fits),
    ):
        walls = sorted({w for t in tests if (w := getattr(t.walls, field)) is not None})
        spans = "; ".join(dict.fromkeys(_span_of(g) for g in found))
        actual = ", ".join(w.text for w in walls) or "–"
        rows.append(_row(name, "thickness.bands", actual, spans, adopted))
    return rows


def _tube_range(walls: CouponWalls, rule: Rule) -> WallRange | Outcome:
    return range_of_wall(walls.tube, rule) if walls.tube is not None else Outcome.UNDETERMINED


def _span_of(group: Sequence[WallRange | Outcome | None]) -> str:
    """Return what joints that passed together have in common, or that it is open or not asked."""
    if Outcome.UNDETERMINED in group:
        return outcome_word(Outcome.UNDETERMINED, Why.NEEDS_DATA)
    spans = [s for s in group if isinstance(s, WallRange)]
    if not spans:
        return word("range.fitting_not_asked")
    span = overlap_of_ranges(spans)
    return f"{span.low.text} – {span.high.text}"


def _overlap(tests: Sequence[TestedJoint], adopted: Adopted) -> list[dict[str, str]]:
    rules = [r for r in adopted.all("overlap.max_increase") if r.value is not None]
    overlaps = sorted({t.overlap for t in tests if t.overlap is not None})
    if not rules or not overlaps:
        return []
    by_position = []
    for letter in sorted({t.position for t in tests}):
        groups = needed_together([t for t in tests if t.position == letter])
        known = [least_overlap(g) for g in groups if all(t.overlap is not None for t in g)]
        best = max((least for least in known if least is not None), default=None)
        ceiling = min(overlap_ceiling(best, r) for r in rules) if best is not None else None
        unknown = outcome_word(Outcome.UNDETERMINED, Why.NEEDS_DATA)
        by_position.append(f"{letter}: ≤ {ceiling.text}" if ceiling else f"{letter}: {unknown}")
    return [
        _row(
            "variable.overlap",
            "overlap.max_increase",
            ", ".join(o.text for o in overlaps),
            "; ".join(by_position),
            adopted,
        )
    ]


def _floor(judged: Judged) -> list[dict[str, str]]:
    procedure = judged.judgement.evidence.procedure
    overlaps = [p.overlap for p in procedure.pqrs if p.overlap is not None] if procedure else []
    if not overlaps:
        return []
    brazed = sorted({t.overlap for t in judged.judgement.tests if t.overlap is not None})
    return [
        _row(
            "variable.floor",
            "overlap.procedure_floor",
            ", ".join(o.text for o in brazed),
            f"≥ {min(overlaps).text}",
            judged.judgement.adopted,
        )
    ]


def range_rows(judged: Judged) -> list[dict[str, Any]]:
    """Return the concrete list; positions with one answer and one reason share a row."""
    groups: dict[tuple[str, ...], list[ListedSize]] = {}
    for size in judged.sizes:
        reason = _reason(size)
        key = (
            size.size,
            size.tube_type,
            size.fitting,
            size.verdict.outcome.value,
            size.verdict.why.value if size.verdict.why else "",
            reason,
            size.recalled,
            size.brazed,
            size.reason.rule,
        )
        groups.setdefault(key, []).append(size)
    rows = [_listed(key, sizes) for key, sizes in groups.items()]
    return sorted(rows, key=lambda r: RANK[r["outcome"]])  # covered sizes first, else table order


def _listed(key: tuple[str, ...], sizes: list[ListedSize]) -> dict[str, Any]:
    verdict = sizes[0].verdict
    return {
        "size": key[0],
        "tube": f"ASTM B819 {key[1]}",
        "fitting": key[2],
        "positions": "".join(sorted({s.position for s in sizes}, key=POSITION_ORDER.index)),
        "outcome": key[3],
        "why": key[4],
        "act_on": verdict.act_on.value if verdict.act_on is not None else "",
        "word": covered_word(verdict.outcome, verdict.why),
        "reason": key[5],
        "rule": sizes[0].reason.rule,
        "note": word("range.recalled", standard=key[6]) if key[6] else "",
        "brazed": key[7],
    }


def covered_word(outcome: Outcome, why: Why | None) -> str:
    """Return the word used for sizes: covered, not covered, or open with its reason."""
    ids = {Outcome.MET: "range.covered", Outcome.NOT_MET: "range.not_covered"}
    return word(ids[outcome]) if outcome in ids else outcome_word(outcome, why)


def _reason(size: ListedSize) -> str:
    if size.verdict.outcome is Outcome.MET:
        return _margin(size)
    if size.reason.why is Why.UNCONFIRMED:
        refused = size.reason.before_confirmation is Outcome.NOT_MET
        if refused:
            return word("range.refused_once", rule=size.reason.rule, says=say(size.reason.message))
        return word("range.unconfirmed", rule=size.reason.rule)
    return say(size.reason.message)


def _margin(size: ListedSize) -> str:
    """Return what a covered size rests on: the overlap's finding, the usual limit."""
    overlap = [f for f in size.verdict.findings if f.rule == "overlap.max_increase"]
    return say(overlap[-1].message) if overlap else say(size.reason.message)


def range_of(
    source: Path, *, as_of: date | None, progress: Callable[[str], None] | None = None
) -> Judged:
    """Return what a case folder, or an issued record, covers.

    Parameters
    ----------
    source : Path
        A case folder or a record's PDF.
    as_of : date, optional
        The civil day, needed for a case folder.
    progress : callable, optional
        Told before each photograph is measured.
    """
    if source.is_dir():
        if as_of is None:
            raise ValueError("a case folder is asked about a day")
        return judge_case(source, as_of=as_of, progress=progress).judged
    from .recordfile import judged_of_record

    return judged_of_record(source, as_of=as_of)


def range_document(judged: Judged) -> dict[str, Any]:
    """Return variables and sizes as plain JSON."""
    evidence = judged.judgement.evidence
    return {
        "case": evidence.case,
        "as_of": evidence.as_of.isoformat(),
        "qualified_positions": list(judged.judgement.qualified),
        "variables": variable_rows(judged),
        "sizes": range_rows(judged),
    }


def range_lines(judged: Judged, *, covered_only: str = "") -> Iterator[str]:
    """Yield variables and sizes as lines for a terminal.

    Parameters
    ----------
    judged : Judged
        The judged case.
    covered_only : str, optional
        ``yes`` leaves out what is not covered.
    """
    rows = variable_rows(judged)
    if not rows:
        yield word(
            "range.nothing",
            word=outcome_word(judged.judgement.verdict.outcome, judged.judgement.verdict.why),
        )
        return
    width = max(len(r["variable"]) for r in rows)
    for row in rows:
        yield f"{row['variable']:<{width}}  {row['actual']}  →  {row['qualified']}"
        yield f"{'':<{width}}  {row['cite']}"
    yield ""
    listed = [r for r in range_rows(judged) if not covered_only or r["outcome"] == "met"]
    sets = max((len(r["brazed"]) + 2 for r in listed if r["brazed"]), default=0)
    for row in listed:
        yield (
            f"{row['size']:>6} in  {row['tube']:<11} {row['fitting']:<12} "
            f"{row['positions']:<4} {row['brazed']:<{sets}}{row['word']:<20} {row['reason']}"
        )
    if covered_only:
        left = Counter(r["outcome"] for r in range_rows(judged))
        yield word("range.left_out", waiting=str(left["undetermined"]), out=str(left["not-met"]))
    notes = sorted({r["note"] for r in listed if r["note"]})
    if notes:
        yield ""
        yield from notes
    yield ""
    yield word("caution.governs")
