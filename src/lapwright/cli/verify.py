"""``lapwright verify``: check a record, an export, a proof or a token offline."""

from __future__ import annotations

from pathlib import Path

import click

from .common import data_folder, data_option, json_option, open_log, print_json, progress


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--trust",
    type=click.Path(path_type=Path, dir_okay=False),
    multiple=True,
    help="The issuer's trust.pem, and certificates of later signers; may be given several "
    "times [default: this installation's own].",
)
@data_option
@json_option
def verify(file: Path, trust: tuple[Path, ...], data: Path | None, as_json: bool) -> None:
    """Check a file and say in words what holds and what does not.

    A record's PDF, an export of a ledger (folder or zip), a proof of 'ledger prove', or
    the token that a record's code holds when scanned: its text, or a file with it. Offline, on any
    machine. With --data the ledger is asked as well: whether a record is its latest, was
    cut back to an earlier signature, superseded or withdrawn.
    """
    from lapwright.services.verifyledger import is_export, verify_any

    own = data_folder(data) / "keys" / "trust.pem"
    trusted = [*([own] if data is not None and own.is_file() else []), *trust]
    log = open_log(data) if data is not None else None
    if not trusted and (own.is_file() or not is_export(file)):
        trusted = [own]
    report = verify_any(file, trusted, log=log, tell=progress)
    if as_json:
        print_json(report.as_dict())
    else:
        for line in report.lines():
            click.echo(line)
    raise SystemExit(report.exit_status)
