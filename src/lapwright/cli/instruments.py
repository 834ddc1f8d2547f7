"""``lapwright instruments``: the register, and what an instrument out of tolerance has touched."""

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
    open_log,
    open_to_write,
    print_json,
    tell_clock,
    today,
)

FILE = click.Path(path_type=Path, dir_okay=False)
BY = click.option("--by", required=True, metavar="PERSON", help="Who does it: the person's id.")
WARN = click.option(
    "--warn-days",
    type=click.IntRange(0),
    default=30,
    show_default=True,
    help="Tell what ends within so many days.",
)
ON = click.option("--on", type=Day(), help="Day of it [default: today].")


@click.group()
def instruments() -> None:
    """Instruments: list, file, doubt, clear."""


@instruments.command("list")
@as_of_option
@known_by_option
@WARN
@data_option
@json_option
def list_(
    as_of: date, known_by: date | None, warn_days: int, data: Path | None, as_json: bool
) -> None:
    """List instruments with the end of their calibration and doubts that stand."""
    from lapwright.services.instruments import register
    from lapwright.services.paperreport import instrument_document, instrument_lines

    rows = register(open_log(data), as_of=as_of, known_by=known_by, warn_days=warn_days)
    if as_json:
        print_json([instrument_document(r) for r in rows])
        return
    for line in instrument_lines(rows):
        click.echo(line)


@instruments.command("file")
@click.argument("instrument")
@click.option("--kind", required=True, help="What it is, such as 'calliper'.")
@click.option("--resolution", default="", help="Its resolution with the unit: '0.0005 in'.")
@click.option("--calibrated-on", type=Day(), required=True, help="Day of the calibration.")
@click.option("--calibrated-until", type=Day(), required=True, help="Last day it holds.")
@click.option("--certificate", type=FILE, help="The certificate; kept as it is.")
@click.option("--remark", default="")
@BY
@ON
@data_option
@json_option
def file_(data: Path | None, as_json: bool, **given: Any) -> None:
    """File an instrument, or its new calibration."""
    from lapwright.services import instruments as use
    from lapwright.services.paperreport import instrument_document
    from lapwright.services.people import must_stand_for_somebody
    from lapwright.services.programmeacts import Writing
    from lapwright.services.text import word

    by, on, at = given.pop("by"), given.pop("on") or today(), now()
    store = open_to_write(data, at=at)
    must_stand_for_somebody(store.log, by)
    filing = use.Filing(**given)
    use.file_instrument(filing, store.log, store.files, writing=Writing(by, at), on=on)
    if as_json:
        rows = use.register(store.log, as_of=on)
        print_json(next(instrument_document(r) for r in rows if r.id == filing.instrument))
    else:
        until = filing.calibrated_until.isoformat()
        click.echo(word("instrument.filed", instrument=filing.instrument, until=until))


@instruments.command()
@click.argument("instrument")
@click.option("--since", type=Day(), required=True, help="Last day it was known to be good.")
@click.option("--found-on", type=Day(), required=True, help="Day it was found out of tolerance.")
@click.option("--reason", required=True, help="What was found.")
@BY
@data_option
@json_option
def doubt(instrument: str, data: Path | None, as_json: bool, by: str, **given: Any) -> None:
    """File that an instrument was found out of tolerance; list all that it has touched."""
    from lapwright.services.doubts import raise_doubt, touched
    from lapwright.services.paperreport import (
        doubt_document,
        doubt_line,
        touched_document,
        touched_lines,
    )
    from lapwright.services.people import must_stand_for_somebody
    from lapwright.services.programmeacts import Writing

    log, at = open_log(data), now()
    tell_clock(log, at)
    must_stand_for_somebody(log, by)
    raised = raise_doubt(instrument, log, writing=Writing(by, at), **given)
    rows = touched(log, raised, as_of=today())
    if as_json:
        print_json({"doubt": doubt_document(raised), "touched": touched_document(rows)})
        return
    click.echo(doubt_line(raised))
    for line in touched_lines(rows):
        click.echo(line)


@instruments.command("touched")
@click.argument("doubt")
@as_of_option
@known_by_option
@data_option
@json_option
def touched_(
    doubt: str, as_of: date, known_by: date | None, data: Path | None, as_json: bool
) -> None:
    """List again all that a doubted instrument has touched; DOUBT is its id, such as CAL-2-D1."""
    from lapwright.services.doubts import doubt_on, touched
    from lapwright.services.paperreport import (
        doubt_document,
        doubt_line,
        touched_document,
        touched_lines,
    )

    log = open_log(data)
    raised = doubt_on(log, doubt, as_of=as_of, known_by=known_by)
    rows = touched(log, raised, as_of=as_of, known_by=known_by)
    if as_json:
        print_json({"doubt": doubt_document(raised), "touched": touched_document(rows)})
        return
    click.echo(doubt_line(raised))
    for line in touched_lines(rows):
        click.echo(line)


@instruments.command()
@click.argument("doubt")
@click.option("--reason", required=True, help="Why the figures taken with it stand.")
@BY
@ON
@data_option
@json_option
def clear(
    doubt: str, reason: str, by: str, on: date | None, data: Path | None, as_json: bool
) -> None:
    """Clear a doubt with its reason; DOUBT is its id, such as CAL-2-D1."""
    from lapwright.services.doubts import clear_doubt
    from lapwright.services.paperreport import doubt_document
    from lapwright.services.people import must_stand_for_somebody
    from lapwright.services.programmeacts import Writing
    from lapwright.services.text import word

    log, at = open_log(data), now()
    tell_clock(log, at)
    must_stand_for_somebody(log, by)
    done = clear_doubt(doubt, log, on=on or today(), reason=reason, writing=Writing(by, at))
    if as_json:
        print_json(doubt_document(done))
    else:
        click.echo(word("instrument.cleared", doubt=done.id, reason=done.cleared_reason))
