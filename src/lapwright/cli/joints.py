"""``lapwright joints``: the joints of a job, read from a list."""

from __future__ import annotations

from pathlib import Path

import click

from .common import json_option, print_json


@click.group()
def joints() -> None:
    """The joints of a job: read a list with confirmed columns."""


@joints.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--map",
    "mapping",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File of columns [default: beside the list, FILE.columns.yaml; proposed there first].",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File for the joints that were read, .jsonl.",
)
@json_option
def read(file: Path, mapping: Path | None, out: Path | None, as_json: bool) -> None:
    """Read a list of joints, CSV or XLSX: bad rows are told, good rows kept.

    The first time a file of columns is proposed beside the list, and nothing is read:
    check it, name the size system and the units, confirm it, and read again.
    """
    from lapwright.services.jointlist import read_joint_list, write_joints
    from lapwright.services.text import word

    found = read_joint_list(file, mapping=mapping)
    digest = write_joints(found, out) if out is not None else ""
    if as_json:
        print_json(found.as_dict() | {"out": str(out or ""), "sha256": digest})
        return
    for line in found.lines():
        click.echo(line)
    if out is not None:
        click.echo(word("joints.written", path=str(out)))
