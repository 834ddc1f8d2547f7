"""``lapwright credentials``: what other bodies say of people, and until when."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import (
    Day,
    as_of_option,
    data_folder,
    data_option,
    json_option,
    known_by_option,
    now,
    open_log,
    open_to_write,
    print_json,
    today,
)
from .instruments import BY, FILE, ON, WARN

if TYPE_CHECKING:
    from lapwright.desk.boot import Store


@click.group()
def credentials() -> None:
    """Credentials of people: list, note. None of them is a qualification to braze."""


@credentials.command("list")
@as_of_option
@known_by_option
@WARN
@data_option
@json_option
def list_(
    as_of: date, known_by: date | None, warn_days: int, data: Path | None, as_json: bool
) -> None:
    """List the latest credential of each kind of each person; what ends first in front."""
    from lapwright.services.credentials import credentials as held
    from lapwright.services.paperreport import credential_document, credential_lines

    rows = held(open_log(data), as_of=as_of, known_by=known_by, warn_days=warn_days)
    if as_json:
        print_json([credential_document(r) for r in rows])
        return
    for line in credential_lines(rows):
        click.echo(line)


@credentials.command()
@click.argument("person")
@click.option("--kind", required=True, help="What it is, such as 'installer'.")
@click.option("--issuer", required=True, help="The body that issued it.")
@click.option("--until", type=Day(), required=True, help="Last day on which it holds.")
@click.option("--remark", default="")
@click.option("--scan", type=FILE, help="Its scan, PNG or JPEG, or a PDF without numbers.")
@click.option(
    "--mask", "masks", multiple=True, metavar="PAGE:X,Y,W,H", help="Region to paint over."
)
@click.option("--no-number", is_flag=True, help="The scan shows no government number.")
@click.option("--name", default="", help="Name of the person, where no case lists them yet.")
@click.option("--employer", default="", help="Their employer, with --name.")
@BY
@ON
@data_option
@json_option
def note(person: str, data: Path | None, as_json: bool, **given: Any) -> None:
    """Note a credential that somebody has seen."""
    from lapwright.services import credentials as use
    from lapwright.services.programmeacts import Writing
    from lapwright.services.scans import parse_region
    from lapwright.services.text import word

    scan = None
    if given["scan"] is not None:
        regions = tuple(parse_region(m) for m in given["masks"])
        scan = use.CredentialScan(given["scan"], regions, "yes" if given["no_number"] else "")
    at = now()
    store = open_to_write(data, at=at)
    _must_be_known(store, data_folder(data), person, given, at)
    seen = use.Credential(person, given["kind"], given["issuer"], given["until"], given["remark"])
    act = use.note_credential(
        seen,
        store.log,
        store.files,
        on=given["on"] or today(),
        writing=Writing(given["by"], at),
        scan=scan,
    )
    if as_json:
        print_json(dict(act.body))
    else:
        until = seen.until.isoformat()
        click.echo(word("credential.noted", kind=act.body["kind"], person=person, until=until))


def _must_be_known(
    store: Store, data: Path, person: str, given: dict[str, Any], at: datetime
) -> None:
    """Refuse ids of nobody; with ``--name`` the person is enrolled."""
    from lapwright.services.people import NewPerson, enrol, must_stand_for_somebody
    from lapwright.services.programme import open_programme

    must_stand_for_somebody(store.log, given["by"])
    if given["name"]:
        programme = open_programme(data, log=store.log, files=store.files, at=at)
        new = NewPerson(person, given["name"], "holder of a credential", given["employer"])
        enrol(store.log, new, secret=programme.keys.salt, by=given["by"], at=at)
    must_stand_for_somebody(store.log, person)
