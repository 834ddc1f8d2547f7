"""``lapwright demo``: the invented programme, from drawn photographs to signed records."""

from __future__ import annotations

from pathlib import Path

import click

from .common import now, open_data, progress


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("lapwright-demo"),
    show_default=True,
    help="Folder to write to.",
)
@click.option("--no-serve", is_flag=True, help="End without serving the desk.")
def demo(out: Path, no_serve: bool) -> None:
    """Write an invented programme with drawn photographs, judge it, issue its records.

    The desk does not exist yet: the command ends with a summary of where
    everything is, with or without --no-serve.
    """
    from lapwright.services.demo import DATA, run_demo

    at, folder = now(), out.resolve()
    programme = open_data(folder / DATA, at=at)
    for line in run_demo(folder, programme, at=at, progress=progress).text():
        click.echo(line)
