"""``lapwright use``: attest that somebody brazed, which keeps qualifications in force."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from .common import Day, data_option, json_option, now, open_log, print_json


@click.group()
def use() -> None:
    """Uses of a process and a procedure: attest."""


@use.command()
@click.option("--person", required=True, help="Who brazed, by id.")
@click.option("--process", required=True, help="The process, such as TB.")
@click.option("--procedure", required=True, help="The procedure followed, by its number.")
@click.option("--on", type=Day(), required=True, help="Civil day of the brazing.")
@click.option("--by", required=True, metavar="PERSON", help="Who saw it; never the brazer.")
@click.option("--joints", default="", help="Ids of joints, separated by commas.")
@click.option("--job", default="", help="The job.")
@data_option
@json_option
def attest(
    person: str, process: str, procedure: str, on: date, by: str, data: Path | None,
    as_json: bool, joints: str, job: str,
) -> None:  # fmt: skip
    """Attest a use that somebody has seen; late paper of a timely use counts and is told."""
    from lapwright.services.attesting import UseSeen, attest_use
    from lapwright.services.programmeacts import Writing
    from lapwright.services.text import word

    named = tuple(j.strip() for j in joints.split(",") if j.strip())
    seen = UseSeen(person, process, procedure, on, named, job)
    act = attest_use(seen, open_log(data), writing=Writing(by, now()))
    if as_json:
        print_json({**act.body, "on": on.isoformat(), "act": act.sha256})
        return
    shown = {"person": person, "process": process, "procedure": procedure, "by": by}
    click.echo(word("use.attested", on=on.isoformat(), **shown))
