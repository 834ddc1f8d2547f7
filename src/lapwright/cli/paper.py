"""``lapwright paper``: records made elsewhere, and two employers' procedures side by side."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import click

from .common import (
    Day,
    as_of_option,
    data_option,
    json_option,
    known_by_option,
    now,
    open_existing,
    open_log,
    open_to_write,
    print_json,
    progress,
    today,
)

FILE = click.Path(path_type=Path, dir_okay=False)


@click.group()
def paper() -> None:
    """Records made elsewhere: enter, correct, check, list, show, compare."""


@paper.command()
@click.argument("paper_yaml", metavar="PAPER.yaml", type=FILE)
@click.option(
    "--scan",
    "scans",
    type=FILE,
    multiple=True,
    required=True,
    help="Scan: a PNG or JPEG for each page, in order, or one PDF without numbers to mask.",
)
@click.option(
    "--mask",
    "masks",
    multiple=True,
    metavar="PAGE:X,Y,W,H",
    help="Region to paint over, in pixels of the upright page; may be repeated.",
)
@data_option
@json_option
def enter(
    paper_yaml: Path,
    scans: tuple[Path, ...],
    masks: tuple[str, ...],
    data: Path | None,
    as_json: bool,
) -> None:
    """Enter a record made elsewhere, typed in YAML, with its scan.

    Government numbers are masked before anything is stored; the original scan never is.
    """
    from lapwright.services import paperrecords as papers
    from lapwright.services.paperreport import paper_document
    from lapwright.services.programmeacts import Writing
    from lapwright.services.scans import parse_region
    from lapwright.services.text import word

    given = papers.PaperToEnter(paper_yaml, scans, tuple(parse_region(m) for m in masks))
    doc = papers.read_paper(paper_yaml)
    at = now()
    store = open_to_write(data, at=at)
    filed = papers.enter_paper(
        given, store.log, store.files, writing=Writing(doc["typed"]["by"], at)
    )
    if as_json:
        print_json(paper_document(filed, adopted=papers.house_rules(filed.typed_on)))
        return
    click.echo(word("paper.entered", paper=filed.id))
    masked = ", ".join(filed.body.get("masked", ()))
    if masked:
        click.echo(word("paper.masked", regions=masked))
    else:
        click.echo(word("paper.not_searched", by=filed.typed_by))


@paper.command()
@click.argument("paper_id", metavar="ID")
@click.argument("paper_yaml", metavar="PAPER.yaml", type=FILE)
@click.option("--reason", required=True, help="Why, in one sentence, without names.")
@click.option("--by", required=True, metavar="PERSON", help="Who corrects it: the person's id.")
@data_option
@json_option
def correct(
    paper_id: str, paper_yaml: Path, reason: str, by: str, data: Path | None, as_json: bool
) -> None:
    """Correct what was typed wrongly: file the whole YAML as it should be.

    What was typed first stays readable, the scan stays as it is. Another person then
    compares the text with its scan anew.
    """
    from lapwright.services.paperrecords import correct_paper
    from lapwright.services.programmeacts import Writing
    from lapwright.services.text import word

    log, writing = open_log(data), Writing(by, now())
    mended = correct_paper(paper_id, paper_yaml, log, reason=reason, writing=writing)
    if as_json:
        print_json(mended.as_dict())
        return
    for line in mended.lines():
        click.echo(line)
    click.echo(word("paper.corrected", paper=paper_id))


@paper.command()
@click.argument("paper_id", metavar="ID")
@click.option("--by", required=True, metavar="PERSON", help="Who compared; not who typed it.")
@click.option("--outcome", type=click.Choice(["agrees", "differs"]), required=True)
@click.option("--remark", default="", help="What differs; needed with 'differs'.")
@click.option("--on", type=Day(), help="Day of the check [default: today].")
@click.option(
    "--employer", default="", help="The employer that tested, where this is its confirmation."
)
@click.option("--evidence", type=FILE, help="Scan of what that employer sent: PNG, JPEG or PDF.")
@click.option(
    "--mask", "masks", multiple=True, metavar="PAGE:X,Y,W,H", help="Region to paint over."
)
@click.option("--no-number", is_flag=True, help="The evidence shows no government number.")
@click.option("--name", default="", help="Name of who files a confirmation, to enrol them.")
@click.option("--role", default="", help="Their role, with --name; not that of a brazer.")
@data_option
@json_option
def check(paper_id: str, data: Path | None, as_json: bool, **given: Any) -> None:
    """Check a paper record against its scan, or file the testing employer's confirmation."""
    from lapwright.services import paperrecords as papers
    from lapwright.services.paperreport import paper_document
    from lapwright.services.programmeacts import Writing
    from lapwright.services.scans import parse_region
    from lapwright.services.text import word

    regions = tuple(parse_region(m) for m in given["masks"])
    at = now()
    enrols = given["name"] if given["employer"] else ""
    keys = open_existing(data, at=at) if enrols else None
    store = keys or open_to_write(data, at=at)
    look = papers.PaperLook(
        paper_id,
        given["by"],
        given["on"] or today(),
        given["outcome"],
        given["remark"],
        given["employer"],
        given["evidence"],
        regions,
        "yes" if given["no_number"] else "",
        given["name"],
        given["role"],
    )
    secret = keys.keys.salt if keys else b""
    writing = Writing(look.by, at)
    filed = papers.check_paper(look, store.log, store.files, writing=writing, secret=secret)
    if as_json:
        print_json(paper_document(filed, adopted=papers.house_rules(look.on)))
    else:
        shown = {"by": look.employer or look.by, "outcome": look.outcome}
        click.echo(word("paper.filed_check", paper=filed.id, **shown))


EDITION = click.option(
    "--edition",
    "editions",
    multiple=True,
    metavar="'CODE EDITION'",
    help="Judge under this edition too, such as 'nfpa-99 2018'; may be repeated.",
)


@paper.command("list")
@as_of_option
@known_by_option
@EDITION
@data_option
@json_option
def list_(
    as_of: date,
    known_by: date | None,
    editions: tuple[str, ...],
    data: Path | None,
    as_json: bool,
) -> None:
    """List paper records and what each is worth on a day."""
    from lapwright.services import paperrecords as papers
    from lapwright.services.paperreport import paper_document, papers_lines

    found = papers.papers_on(open_log(data), as_of=as_of, known_by=known_by)
    adopted = papers.house_rules(as_of, editions)
    if as_json:
        print_json([paper_document(p, adopted=adopted) for p in found])
        return
    for line in papers_lines(found, adopted=adopted):
        click.echo(line)


@paper.command()
@click.argument("paper_id", metavar="ID")
@as_of_option
@known_by_option
@EDITION
@data_option
@json_option
def show(paper_id: str, as_of: date, data: Path | None, as_json: bool, **given: Any) -> None:
    """Show a paper record: as typed, its checks, what it is worth and why."""
    from lapwright.services import paperrecords as papers
    from lapwright.services.paperreport import paper_document, paper_lines

    found = papers.paper_on(open_log(data), paper_id, as_of=as_of, known_by=given["known_by"])
    adopted = papers.house_rules(as_of, given["editions"])
    if as_json:
        print_json(paper_document(found, adopted=adopted))
        return
    for line in paper_lines(found, adopted=adopted):
        click.echo(line)


@paper.command()
@click.argument("old")
@click.argument("new", type=click.Path(path_type=Path))
@click.option("--signed-on", type=Day(), required=True, help="Day on which the new employer signs.")
@as_of_option
@click.option("--uses", type=FILE, help="CSV of uses: on, process, procedure, by, written_on.")
@click.option("--joints", type=FILE, help="CSV of joints: joint, brazed_on, person.")
@click.option("--note", type=FILE, help="What the new employer's signer states in writing.")
@click.option(
    "--ledger", is_flag=True, help="Look OLD up as a paper's id, and filed uses, in the ledger."
)
@click.option("--out", type=FILE, help="Write the page to sign (.pdf), or the JSON (.json).")
@data_option
@json_option
def compare(old: str, new: Path, data: Path | None, as_json: bool, **given: Any) -> None:
    """Lay two employers' procedures side by side and judge an acceptance.

    OLD is a paper's YAML, a record's PDF, a case folder, a procedure's YAML, or with
    --ledger the id of an entered paper. NEW is the new employer's case folder or
    procedure's YAML, whose basis is judged under. An acceptance serves NFPA 99 work only.
    """
    from lapwright.services.comparereport import comparison_document, comparison_lines
    from lapwright.services.comparesheet import write_comparison
    from lapwright.services.comparing import Question, run_comparison
    from lapwright.services.text import word

    out, ledger = given.pop("out"), given.pop("ledger")
    log = open_log(data) if ledger or data is not None else None
    found = run_comparison(Question(old, new, log=log, **given), progress=progress)
    sha = write_comparison(found, out) if out is not None else ""
    if as_json:
        print_json(comparison_document(found))
    else:
        for line in comparison_lines(found):
            click.echo(line)
    if out is not None:
        click.echo(word("compare.written", path=str(out)), err=as_json)
        click.echo(word("compare.sha", sha=sha), err=as_json)
