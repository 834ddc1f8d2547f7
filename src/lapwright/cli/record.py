"""``lapwright record``: certify, accept, withdraw, list and show records; forget a name."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from .common import (
    Day,
    F,
    asked_options,
    data_option,
    json_option,
    now,
    open_existing,
    open_log,
    print_json,
    today,
)

if TYPE_CHECKING:
    from lapwright.services.certifying import Signing
    from lapwright.services.programme import Programme

BY = click.option("--by", required=True, metavar="PERSON", help="Who does it: the person's id.")
FILE = click.Path(path_type=Path, dir_okay=False)


def signing_options(function: F) -> F:
    """Add what both kinds of later signature take."""
    for option in (
        click.option(
            "--key", type=FILE, help="Own P-256 key with its certificate, PKCS #12 or PEM."
        ),
        click.option(
            "--passphrase-file", type=FILE, help="File whose first line opens the key file."
        ),
        click.option("--scan", type=FILE, help="Scan of the page signed in ink (PDF, PNG, JPEG)."),
        click.option("--on", type=Day(), help="Day of the ink signature [default: today]."),
        click.option(
            "--out",
            type=click.Path(path_type=Path, file_okay=False),
            help="Folder for the signed PDF; needed with --key.",
        ),
    ):
        function = option(function)
    return function


@click.group()
def record() -> None:
    """Certify, accept, withdraw, list and show records; forget a name.

    RECORD is a record's number, such as TLH-01-QP7K, or its latest PDF file.
    """


@record.command()
@click.argument("record")
@BY
@signing_options
@data_option
@json_option
def certify(record: str, by: str, data: Path | None, as_json: bool, **given: Any) -> None:
    """Certify a record for its employer: with an own key, or in ink with a scan."""
    from lapwright.services.certifying import certify_record

    at = now()
    _one_way(given)
    programme = open_existing(data, at=at)
    signing = _signing(by, given, programme, at)
    _tell(certify_record(record, programme, signing, out=given["out"]), as_json)


@record.command()
@click.argument("record")
@BY
@click.option("--name", default="", help="Name of the person, where no case lists them yet.")
@click.option("--employer", required=True, help="The later employer.")
@click.option(
    "--comparison", type=FILE, required=True, help="The comparison of both procedures; it is kept."
)
@signing_options
@data_option
@json_option
def accept(
    record: str, by: str, employer: str, data: Path | None, as_json: bool, **given: Any
) -> None:
    """Accept a certified record for a later employer."""
    from lapwright.services.certifying import accept_record, must_be_open
    from lapwright.services.hands import read_kept

    at = now()
    _one_way(given)
    programme = open_existing(data, at=at)
    comparison = read_kept(given["comparison"])
    signing = _signing(by, given, programme, at)
    must_be_open(record, programme)
    if given["name"]:
        _enrol(programme, by, given["name"], employer, at)
    done = accept_record(
        record,
        programme,
        signing,
        employer=employer,
        comparison=comparison,
        out=given["out"],
    )
    _tell(done, as_json)


@record.command()
@click.argument("number")
@BY
@click.option("--reason", required=True, help="Why, in one sentence.")
@data_option
@json_option
def withdraw(number: str, by: str, reason: str, data: Path | None, as_json: bool) -> None:
    """Withdraw a record; its number and files stay."""
    from lapwright.services.withdrawing import withdraw_record

    at = now()
    programme = open_existing(data, at=at)
    _tell(withdraw_record(number, programme, by=by, reason=reason, at=at), as_json)


@record.command("list")
@asked_options
@data_option
@json_option
def list_(as_of: date | None, known_by: date | None, data: Path | None, as_json: bool) -> None:
    """List every record in the order of the register."""
    from lapwright.services.recordlist import Asked, list_document, list_lines

    document = list_document(open_log(data), Asked(as_of or today(), known_by))
    if as_json:
        print_json(document)
        return
    for line in list_lines(document):
        click.echo(line)


@record.command()
@click.argument("number")
@asked_options
@data_option
@json_option
def show(
    number: str, as_of: date | None, known_by: date | None, data: Path | None, as_json: bool
) -> None:
    """Show a record: its revisions, who certified and accepted it, whether it was withdrawn."""
    from lapwright.services.recordlist import Asked, show_document, show_lines

    document = show_document(open_log(data), number, Asked(as_of or today(), known_by))
    if as_json:
        print_json(document)
        return
    for line in show_lines(document):
        click.echo(line)


@record.command()
@click.argument("person")
@BY
@click.option("--reason", required=True, help="Why, without the name.")
@data_option
@json_option
def forget(person: str, by: str, reason: str, data: Path | None, as_json: bool) -> None:
    """Remove a person's name from the ledger; the entries stay whole."""
    from lapwright.services.people import forget as forget_person

    at = now()
    programme = open_existing(data, at=at)
    _tell(forget_person(programme, person, reason=reason, by=by, at=at), as_json)


def _one_way(given: dict[str, Any]) -> None:
    if (given["key"] is None) == (given["scan"] is None):
        raise click.UsageError("give either --key or --scan")
    if given["key"] is not None and given["out"] is None:
        raise click.UsageError("--key needs --out, a folder for the signed PDF")
    if given["scan"] is not None and given["out"] is not None:
        raise click.UsageError("--out is for --key: a page signed in ink changes no file")
    if given["key"] is not None and given["on"] is not None:
        raise click.UsageError("--on is for --scan: a key signs at the moment of signing")


def _signing(by: str, given: dict[str, Any], programme: Programme, at: datetime) -> Signing:
    from lapwright.services.certifying import Signing
    from lapwright.services.hands import read_hand, read_passphrase, read_scan

    if given["scan"] is not None:
        return Signing(by, given["on"] or today(), at, scan=read_scan(given["scan"]))
    phrase = given["passphrase_file"]
    opened = read_passphrase(phrase) if phrase is not None else None
    hand = read_hand(given["key"], programme.keys, passphrase=opened)
    return Signing(by, today(), at, hand=hand)


def _enrol(programme: Programme, by: str, name: str, employer: str, at: datetime) -> None:
    from lapwright.services.people import NewPerson, enrol

    role = "responsible person of a later employer"
    new = NewPerson(by, name, role, employer)
    enrol(programme.log, new, secret=programme.keys.salt, by=by, at=at)


def _tell(done: Any, as_json: bool) -> None:
    if as_json:
        print_json(done.as_dict())
        return
    for line in done.lines():
        click.echo(line)
