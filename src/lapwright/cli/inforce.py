"""``lapwright in-force``: who is in force on a day, until when, carried by what."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import Day, as_of_option, json_option, open_ledger, print_json, progress

if TYPE_CHECKING:
    from lapwright.services.inforce import Asked, People


@click.command("in-force")
@click.argument("sources", nargs=-1, required=True, type=click.Path(path_type=Path))
@as_of_option
@click.option(
    "--known-by",
    type=Day(),
    help="Only what was written by the end of this day, in the programme's zone.",
)
@click.option("--due", metavar="DAYS", help="List what runs out within this span, such as 60d.")
@click.option("--person", default="", help="Only this person, by id.")
@click.option("--employer", default="", help="Only what serves this employer.")
@click.option(
    "--basis", default="", metavar="CASE", help="Case whose basis judges records from paper."
)
@json_option
def in_force(sources: tuple[Path, ...], as_of: date, as_json: bool, **given: Any) -> None:
    """Who is in force on a day: one line a person and qualification.

    SOURCES is the data folder of a ledger, or one or more case folders. A case folder
    holds no uses and no signatures of employers: ask the ledger where there is one.
    """
    from lapwright.services.inforce import Asked
    from lapwright.services.inforcefold import Days
    from lapwright.services.inforcereport import people_document, people_lines
    from lapwright.services.spans import days_of

    due = days_of(given["due"]) if given["due"] else None
    days = Days(as_of, given["known_by"])
    found = _asked(sources, Asked(days, due, given["person"], given["employer"], given["basis"]))
    if as_json:
        print_json(people_document(found))
        return
    for line in people_lines(found):
        click.echo(line)


def _asked(sources: tuple[Path, ...], asked: Asked) -> People:
    from lapwright.services.inforce import in_force_of_cases, in_force_of_log
    from lapwright.services.programme import must_exist

    if len(sources) > 1 or (sources[0] / "case.yaml").is_file():
        if asked.days.known_by is not None:
            raise click.UsageError("--known-by asks a ledger; a case folder keeps no history")
        return in_force_of_cases(sources, asked, progress=progress)
    store = open_ledger(must_exist(sources[0]))
    return in_force_of_log(store.log, store.files, asked)
