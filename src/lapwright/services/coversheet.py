"""The words of the papers of cover: the matrix as drawings and PDF, the foreman's daily sheet."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime, time

from lapwright.core.outcomes import Finding, Outcome
from lapwright.documents.covermatrix import Matrix, MatrixLine, matrix_pages
from lapwright.documents.coversheets import (
    ClassRow,
    CoverSheet,
    DailyBlock,
    DailyCell,
    DailyReason,
    DailyRow,
    DailySheet,
    LostRow,
    NobodyRow,
    typeset_cover,
    typeset_daily,
)
from lapwright.documents.labels import COVER_LABELS, DAILY_LABELS
from lapwright.documents.sheets import Fact, FindingRow, OutcomeWord, Picture
from lapwright.rules.coverparts import FAILED, MET
from lapwright.rules.rulebook import source_title

from .bothunits import in_both_units
from .cover import ASSIGN, CALL, NO, JobCover
from .coverpeople import Brazer
from .coverreport import cover_document, joined, matrix_csv, reason_of, reasons_csv, state_word
from .recordrows import short_cite
from .text import outcome_word, say, word

ACROSS = 6  # people side by side on the foreman's sheet
MOST_NOBODY = 200
MOST_REASONS = 120


def cover_files(found: JobCover) -> dict[str, bytes]:
    """Return every file of a cover by name: matrix (CSV, SVG, PDF), reasons, daily sheet, JSON.

    Parameters
    ----------
    found : JobCover
        The answer.

    Raises
    ------
    LapwrightError
        For a text that cannot be printed.
    """
    data = _json(found)
    pages = matrix_pages(_matrix(found))
    width = max(2, len(str(len(pages))))
    drawn = {f"matrix-{n:0{width}d}.svg": (p + "\n").encode() for n, p in enumerate(pages, 1)}
    return {
        "cover.json": data,
        "cover.pdf": typeset_cover(_sheet(found, pages), data=data, made_at=_at(found)),
        "daily-sheet.pdf": typeset_daily(daily_sheet(found), made_at=_at(found)),
        "matrix.csv": matrix_csv(found),
        "reasons.csv": reasons_csv(found),
        **drawn,
    }


def _json(found: JobCover) -> bytes:
    return (json.dumps(cover_document(found), indent=1, ensure_ascii=False) + "\n").encode()


def _at(found: JobCover) -> datetime:
    """Return the day asked about as the papers' date: nothing hangs on when they are printed."""
    return datetime.combine(found.question.as_of, time(0), tzinfo=UTC)


_KINDS = {MET: Outcome.MET, FAILED: Outcome.NOT_MET}


def _cell(state: int) -> OutcomeWord:
    return OutcomeWord(_KINDS.get(state, Outcome.UNDETERMINED), state_word(state))


def _matrix(found: JobCover) -> Matrix:
    lines = tuple(
        MatrixLine(
            c.about.id,
            c.label,
            f"{c.about.filler} · {c.about.position} · ×{c.about.count}",
            tuple(_cell(found.now.state(b.id, i)) for b in found.brazers),
        )
        for i, c in enumerate(found.classes)
    )
    key = tuple(
        OutcomeWord(kind, word(f"cover.key.{name}"))
        for kind, name in (
            (Outcome.MET, "met"),
            (Outcome.UNDETERMINED, "open"),
            (Outcome.NOT_MET, "not_met"),
        )
    )
    return Matrix(
        title=word("cover.title"),
        subtitle=_subtitle(found),
        people=tuple(b.shown for b in found.brazers),
        lines=lines,
        key=key,
        page=word("cover.page", page="{page}", pages="{pages}"),
    )


def _subtitle(found: JobCover) -> str:
    q = found.question
    known = word("cover.known_by", on=q.known_by.isoformat()) if q.known_by else ""
    told = word(
        "cover.subtitle",
        list=found.joints.name,
        employer=found.holders.employer,
        on=q.as_of.isoformat(),
    )
    return f"{told}{known}"


def _sheet(found: JobCover, pages: tuple[str, ...]) -> CoverSheet:
    nobody = found.uncovered()
    later = found.question.later
    return CoverSheet(
        title=word("cover.title"),
        headline=_headline(found),
        facts=_facts(found),
        pages=tuple(Picture(p.encode(), _alt(found, n)) for n, p in enumerate(pages, 1)),
        nobody=tuple(_nobody(found, i) for i in nobody[:MOST_NOBODY]),
        nobody_intro=word("cover.nobody_intro", number=str(len(nobody)), shown=str(MOST_NOBODY)),
        about=tuple(_about(found)),
        later=word("cover.later", on=later.isoformat()) if later else "",
        lost=tuple(_lost(found)),
        classes=tuple(
            ClassRow(c.about.id, _whole(found, i), c.joints) for i, c in enumerate(found.classes)
        ),
        labels={i: word(i) for i in COVER_LABELS},
        cautions=(word("caution.governs"), word("cover.caution"), word("caution.dagger")),
    )


def _alt(found: JobCover, number: int) -> str:
    return word("cover.alt", number=str(number), headline=_headline(found))


def _headline(found: JobCover) -> str:
    lines = len(found.classes)
    return word(
        "cover.headline",
        covered=str(lines - len(found.uncovered())),
        classes=str(lines),
        people=str(len(found.brazers)),
        on=found.question.as_of.isoformat(),
    )


def _facts(found: JobCover) -> tuple[Fact, ...]:
    q = found.question
    editions = ", ".join(
        source_title(e.source) for e in found.holders.adopted.editions if e.code != "programme"
    )
    asked = "; ".join(word(f"joints.ask.{n}") for n in found.joints.missing)
    rows = (
        ("list", found.joints.name),
        ("joints", str(found.joints.joints)),
        ("employer", found.holders.employer),
        ("day", q.as_of.isoformat()),
        ("known", q.known_by.isoformat() if q.known_by else ""),
        ("editions", editions),
        ("rows", str(len({f.row for f in found.joints.faults})) if found.joints.faults else ""),
        ("missing", asked),
    )
    return tuple(Fact(word(f"cover.fact.{name}"), value) for name, value in rows)


def _whole(found: JobCover, line: int) -> str:
    made = found.classes[line]
    a = made.about
    parts = (
        f"{a.size} in {a.tube} {a.tube_type}",
        a.fitting,
        in_both_units(made.overlap),  # a nominal size is no length
        "/".join(m for m in made.metals if m),
        f"{a.filler} {a.form}".strip(),
        word("cover.flux", flux=a.flux),
        word("cover.position", position=a.position),
        a.procedure,
    )
    return ", ".join(p for p in parts if p)


def _nobody(found: JobCover, line: int) -> NobodyRow:
    made = found.classes[line]
    answer = found.nearest(line)
    names = {b.id: b.shown for b in found.brazers}
    a = made.about
    return NobodyRow(
        a.id,
        f"{made.label}, {a.filler}, {a.position}",
        str(a.count),
        OutcomeWord(
            answer.verdict.outcome, outcome_word(answer.verdict.outcome, answer.verdict.why)
        ),
        ", ".join(t for t in (names[answer.person], answer.by) if t),
        reason_of(answer),
    )


def _about(found: JobCover) -> Iterator[FindingRow]:
    """Yield findings on the joints themselves, classes with one finding on one line."""
    told: dict[tuple[str, Outcome, str, str], list[str]] = {}
    for made, findings in zip(found.classes, found.about, strict=True):
        for f in (f for f in findings if f.outcome is not Outcome.MET):
            said = _without(say(f.message), made.about.id)
            key = (said, f.outcome, outcome_word(f.outcome, f.why), _cites(f))
            told.setdefault(key, []).append(made.about.id)
    for (said, kind, text, cites), ids in told.items():
        yield FindingRow(", ".join(ids), said, OutcomeWord(kind, text), cites)


def _cites(finding: Finding) -> str:
    return "; ".join(dict.fromkeys(short_cite([str(c)]) for c in finding.cites))


def _lost(found: JobCover) -> Iterator[LostRow]:
    for b in found.brazers:
        ids = [found.classes[i].about.id for i in found.lost(b)]
        if ids:
            yield LostRow(b.shown, ", ".join(ids))


def daily_sheet(found: JobCover) -> DailySheet:
    """Return the foreman's sheet of the day asked about."""
    people = [found.brazers[i : i + ACROSS] for i in range(0, len(found.brazers), ACROSS)]
    reasons = tuple(_reasons(found))
    left = len(reasons) - MOST_REASONS
    more = (word("daily.more", number=str(left)),) if left > 0 else ()
    return DailySheet(
        title=word("daily.title"),
        day=found.question.as_of.isoformat(),
        headline=_subtitle(found),
        key=tuple(
            DailyCell(n, word(f"daily.key.{n.replace('-', '_')}")) for n in (ASSIGN, CALL, NO)
        ),
        blocks=tuple(DailyBlock(tuple(b.shown for b in own), _rows(found, own)) for own in people),
        reasons=reasons[:MOST_REASONS],
        ask=word("daily.ask"),
        labels={i: word(i) for i in DAILY_LABELS},
        cautions=(*more, word("daily.caution"), word("caution.governs")),
    )


def _daily(name: str) -> DailyCell:
    return DailyCell(name, word(f"daily.{name.replace('-', '_')}"))


def _rows(found: JobCover, own: tuple[Brazer, ...]) -> tuple[DailyRow, ...]:
    """Return a row a kind of joint; kinds that no person's answer tells apart share none."""
    return tuple(
        DailyRow(
            f"{c.about.size} {c.about.tube_type}",
            in_both_units(f"{c.about.fitting} {c.overlap}".strip()),
            c.about.filler if c.about.flux == "none" else f"{c.about.filler} + {c.about.flux}",
            c.about.position,
            tuple(_daily(found.assign(b, i)) for b in own),
        )
        for i, c in enumerate(found.classes)
    )


def _reasons(found: JobCover) -> Iterator[DailyReason]:
    """Yield why people are not simply assigned, equal reasons of a person on one line."""
    for b in found.brazers:
        told: dict[tuple[str, str], list[str]] = {}
        for i, made in enumerate(found.classes):
            name = found.assign(b, i)
            if name != ASSIGN:
                label = f"{made.about.size} {made.about.tube_type} {made.about.position}"
                told.setdefault((name, _why(found, b, i)), []).append(label)
        for (name, reason), labels in sorted(told.items(), key=lambda t: t[0][0] != CALL):
            yield DailyReason(b.shown, ", ".join(dict.fromkeys(labels)), _daily(name), reason)


def _why(found: JobCover, brazer: Brazer, line: int) -> str:
    if found.now.state(brazer.id, line) == MET:
        open_ = [f for f in (*found.about[line], *brazer.install) if f.outcome is not Outcome.MET]
        if open_:
            return joined(_without(say(f.message), found.classes[line].about.id) for f in open_)
    return _without(reason_of(found.answer(brazer, line)), found.classes[line].about.id)


def _without(told: str, line: str) -> str:
    """Return a sentence without the id of the class, so that equal ones are one."""
    bare = re.sub(rf"(?:line|joint|fitting) {re.escape(line)}: ?", "", told).replace(line, "…")
    return f"{bare[:1].upper()}{bare[1:]}"
