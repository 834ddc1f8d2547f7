"""``lapwright cover``: who may braze which joints of a job on a day."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import Day, as_of_option, json_option, open_ledger, print_json, progress

if TYPE_CHECKING:
    from lapwright.services.cover import JobCover, Question


@click.command()
@click.argument("joints", type=click.Path(path_type=Path))
@click.argument("cases", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--data",
    type=click.Path(path_type=Path, file_okay=False),
    help="Data folder of the ledger; instead of case folders.",
)
@as_of_option
@click.option(
    "--known-by",
    type=Day(),
    help="Only what was written by the end of this day, in the programme's zone.",
)
@click.option(
    "--if-nobody-brazes-until",
    "later",
    type=Day(),
    help="A later day: which cover is lost by then without any further use.",
)
@click.option("--employer", default="", help="Whom the work is for, where several are served.")
@click.option(
    "--basis", default="", metavar="CASE", help="Case whose basis judges records from paper."
)
@click.option(
    "--map", "mapping", type=click.Path(path_type=Path), help="File of columns of a CSV or XLSX."
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="New folder for matrix (SVG, CSV, PDF), reasons, daily sheet (PDF) and JSON.",
)
@json_option
def cover(
    joints: Path,
    cases: tuple[Path, ...],
    as_of: date,
    out: Path | None,
    as_json: bool,
    **given: Any,
) -> None:
    """Who may braze which joints of a job on a day, and what the nearest one lacks.

    JOINTS is the .jsonl of 'lapwright joints read', or a CSV or XLSX with confirmed columns.
    CASES are case folders; they hold no certification, so that no joint is Met by them alone.
    """
    from lapwright.services.atomic import write_folder
    from lapwright.services.cover import Question
    from lapwright.services.coverreport import cover_document, cover_lines
    from lapwright.services.coversheet import cover_files
    from lapwright.services.text import word

    question = Question(as_of, given["known_by"], given["later"], given["employer"], given["basis"])
    found = _asked(joints, cases, given, question)
    if out is not None:
        write_folder(out, cover_files(found))
    if as_json:
        print_json(cover_document(found))
        return
    for line in cover_lines(found):
        click.echo(line)
    if out is not None:
        click.echo(word("cover.written", folder=str(out)))


def _asked(
    joints: Path, cases: tuple[Path, ...], given: dict[str, Any], question: Question
) -> JobCover:
    from lapwright.services.cover import cover_of_cases, cover_of_log
    from lapwright.services.jointlist import open_joints
    from lapwright.services.programme import must_exist

    if bool(cases) == bool(given["data"]):
        raise click.UsageError("name case folders, or a ledger with --data: one of the two")
    if cases and question.known_by is not None:
        raise click.UsageError("--known-by asks a ledger; a case folder keeps no history")
    listed = open_joints(joints, mapping=given["mapping"])
    if cases:
        return cover_of_cases(listed, cases, question=question, progress=progress)
    store = open_ledger(must_exist(given["data"]))
    return cover_of_log(listed, store.log, store.files, question=question)
