"""``lapwright rules``: list, show, sources, and the booklet to tick.

The booklet of a case holds every figure that its decision rests on from memory
and no other, so that one sitting settles it. The
ticks file comes with the figures filled in and the line ``copy`` blank: who
ticks names the copy that was compared.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from lapwright import __version__
from lapwright.rules import catalogue
from lapwright.rules.acceptance import LEANS_ON
from lapwright.rules.rulebook import Edition, library, load_edition, rules_digest, sources

from .atomic import write_bytes, write_made
from .errors import OutputRefused
from .text import say, word


def editions_of(names: Sequence[str]) -> tuple[Edition, ...]:
    """Return the named editions (``"nfpa-99 2018"``), or every edition of the library."""
    if names:
        return tuple(load_edition(*_pair(name)) for name in names)
    return tuple(
        load_edition(code, edition) for code, held in library().items() for edition in held
    )


def _pair(name: str) -> tuple[str, str]:
    code, _, edition = name.replace("/", " ").partition(" ")
    return code, edition.strip()


def list_rows(names: Sequence[str]) -> list[dict[str, str]]:
    """Return one row per rule of the named editions."""
    rows = [row.as_dict() for row in catalogue.list_rules(editions_of(names))]
    return [row | {"shown": _shown(row)} for row in rows]


def _shown(row: dict[str, str]) -> str:
    """Return a figure cut to one line, with its unit where it does not hold it already."""
    figure, unit = row["figure"][:40], row["unit"]
    if unit in ("", "-") or not re.fullmatch(r"[\d./]+", figure):
        return figure
    return f"{figure} {unit.removesuffix('s') if figure == '1' else unit}"


def show_rows(key: str) -> list[dict[str, Any]]:
    """Return every dated value of the rule ``code/edition/id``."""
    code, edition, rule_id = [*key.split("/"), "", ""][:3]
    return list(catalogue.show_rule(code, edition, rule_id))


def source_rows() -> list[dict[str, str]]:
    """Return the source list."""
    return [{"source": key, **row} for key, row in sorted(sources().items())]


def booklet_rows(
    names: Sequence[str], case: Path | None = None, as_of: date | None = None
) -> list[dict[str, Any]]:
    """Return the booklet's lines.

    Parameters
    ----------
    names : sequence of str
        Editions; ignored when a case is given.
    case : Path, optional
        Case folder whose adopted editions and decision the booklet serves.
    as_of : date, optional
        The civil day asked about, needed with a case.
    """
    if case is None or as_of is None:
        held = editions_of(names)
        also = [f"{e.code}/{e.edition}/{rule}" for e in held for rule in LEANS_ON]
        return [_said(e) for e in catalogue.booklet(held, also=also)]
    from .casefolder import open_case
    from .judging import judge_as_confirmed

    judgement = judge_as_confirmed(open_case(case, as_of=as_of).acts, as_of=as_of).judgement
    leaned_on = [
        f"{r['code']}/{r['edition']}/{r['id']}"
        for r in judgement.adopted.rows_used()
        if r["cite"]["basis"] == "memory" and r["value"] is not None
    ]
    entries = catalogue.booklet(judgement.adopted.editions, also=leaned_on)
    return [_said(e) for e in entries if e.key in leaned_on]


def _said(entry: catalogue.BookletEntry) -> dict[str, Any]:
    return entry.as_dict() | {"words": say(entry.words)}


def write_ticks(rows: Sequence[dict[str, Any]], out: Path) -> None:
    """Write a ticks file to complete; a file that exists is never written over.

    Raises
    ------
    OutputRefused
        If the file exists or cannot be written.
    """
    if out.exists():
        raise OutputRefused(
            "a file of that name exists",
            got=str(out),
            expected="a new name, so that filed ticks are never lost",
            do="Name another file, or move the old one away.",
        )
    write_bytes(out, ticks_text(rows).encode())


def ticks_text(rows: Sequence[dict[str, Any]]) -> str:
    """Return a ticks file to complete: figures filled in, ``copy`` and the person blank."""
    import json

    lines = [
        f"# {word('booklet.ticks.how')}",
        "schema: lapwright-booklet/1",
        "confirmed_by: ''",
        "confirmed_on: ''",
        "ticks:",
    ]
    for row in rows:
        lines += [
            f"  # {row['label'] or row['title']}: {row['words']} ({row['cite']})",
            f"  - rule: {row['rule']}",
            f"    figure: {json.dumps(row['figure'], ensure_ascii=False)}",
            "    copy: ''",
        ]
    return "\n".join(lines) + "\n"


def programme_of(case: Path, as_of: date) -> str:
    """Return whose booklet a case's is: employer, case and day, as printed in its head."""
    from lapwright.reference.strictyaml import read_yaml

    from . import schema

    doc = schema.check(read_yaml(case / "case.yaml"), "case", where="case.yaml")
    return word("booklet.of", employer=doc["employer"], case=doc["case"], day=as_of.isoformat())


def write_booklet(
    rows: Sequence[dict[str, Any]], out: Path, *, at: datetime, programme: str = ""
) -> None:
    """Write the booklet as a PDF to print, tick and sign.

    Parameters
    ----------
    rows : sequence of dict
        Lines of `booklet_rows`.
    out : Path
        The PDF to write.
    at : datetime
        The present moment, UTC.
    programme : str, optional
        Whose it is; see `programme_of`.
    """
    from lapwright.documents import sheets as s
    from lapwright.documents.booklet import typeset_booklet
    from lapwright.documents.labels import BOOKLET_LABELS

    headings = list(dict.fromkeys("/".join(r["rule"].split("/")[:2]) for r in rows))
    groups = tuple(
        s.BookletGroup(
            _heading(rows, head), tuple(_row(r) for r in rows if r["rule"].startswith(head + "/"))
        )
        for head in headings
    )
    sheet = s.BookletSheet(
        title=word("booklet.title"),
        programme=programme or word("booklet.programme"),
        rulebook=word("booklet.rulebook", version=__version__, sha=rules_digest(rows)[:16]),
        made=at.date().isoformat(),
        intro=(
            word("booklet.intro.compare"),
            word("booklet.intro.file"),
            word("booklet.intro.differs"),
        ),
        groups=groups,
        declaration=word("booklet.declaration"),
        labels={i: word(i) for i in BOOKLET_LABELS},
        cautions=(word("caution.governs"),),
    )
    write_made(out, typeset_booklet(sheet, made_at=at), suffix=".pdf")


def _heading(rows: Sequence[dict[str, Any]], head: str) -> str:
    cite = next(r["cite"] for r in rows if r["rule"].startswith(head + "/"))
    return str(cite).split(",")[0]


def _row(row: dict[str, Any]) -> Any:
    from lapwright.documents import sheets as s

    return s.BookletRow(
        rule=row["rule"],
        says=row["label"] or row["title"],
        figure=row["words"],
        unit="",
        citation=row["cite"],
        known=word(f"known.{row['basis']}"),
    )
