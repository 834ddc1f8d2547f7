"""``lapwright verify``: check a record offline."""

from __future__ import annotations

from pathlib import Path

import click

from .common import home_folder, home_option, json_option, print_json


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--trust",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Certificate file of the issuer [default: this installation's own].",
)
@home_option
@json_option
def verify(file: Path, trust: Path | None, home: Path | None, as_json: bool) -> None:
    """Check a record offline and say in words what holds and what does not."""
    from lapwright.services.verifying import verify_file

    report = verify_file(file, trust or home_folder(home) / "keys" / "trust.pem")
    if as_json:
        print_json(report.as_dict())
    else:
        for line in report.lines():
            click.echo(line)
    raise SystemExit(report.exit_status)
