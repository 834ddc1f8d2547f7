"""``lapwright verify``: check a record offline."""

from __future__ import annotations

from pathlib import Path

import click

from .common import data_folder, data_option, json_option, open_ledger, print_json


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
    """Check a record and say in words what holds and what does not.

    Offline, on any machine. With --data the ledger is asked as well: whether the file
    is its latest, was cut back to an earlier signature, superseded or withdrawn.
    """
    from lapwright.services.verifying import verify_file

    own = data_folder(data) / "keys" / "trust.pem"
    trusted = [*([own] if data is not None and own.is_file() else []), *trust]
    log = open_ledger(data).log if data is not None else None
    report = verify_file(file, trusted or [own], log=log)
    if as_json:
        print_json(report.as_dict())
    else:
        for line in report.lines():
            click.echo(line)
    raise SystemExit(report.exit_status)
