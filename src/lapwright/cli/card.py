"""``lapwright card``: scale cards to print, and the scale of an instrument from a picture."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from .common import Day, json_option, print_json
from .scaling import CHECK, POSITIVE


@click.group(invoke_without_command=True)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    default="letter",
    show_default=True,
    help="Paper of the sheet.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("card.pdf"),
    show_default=True,
    help="Where to write the sheet (PDF).",
)
@click.pass_context
def card(ctx: click.Context, paper: str, out: Path) -> None:
    """Write a sheet of scale cards to print at 100 %."""
    if ctx.invoked_subcommand is not None:
        return
    from lapwright.services import cards

    click.echo(cards.write_cards(out, paper=paper))


@card.command()
@click.argument("photo", type=click.Path(path_type=Path))
@CHECK
@click.option("--pitch-mm", type=POSITIVE, help="The picture shows a stage micrometer; its pitch.")
@click.option(
    "--profile-out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write an instrument profile (YAML).",
)
@click.option("--instrument", default="", help="Instrument named in the profile.")
@click.option("--setting", default="", help="Its setting, such as the magnification.")
@click.option("--made-on", type=Day(), help="Day the picture was taken.")
@click.option("--valid-until", type=Day(), help="Last day of the profile.")
@json_option
def measure(
    photo: Path,
    check_mm: tuple[float, ...] | None,
    pitch_mm: float | None,
    profile_out: Path | None,
    instrument: str,
    setting: str,
    made_on: date | None,
    valid_until: date | None,
    as_json: bool,
) -> None:
    """Take the scale from a picture of a scale card or a stage micrometer."""
    from lapwright.services import cards

    if check_mm is not None and pitch_mm is not None:
        raise click.UsageError("--check-mm is for a card, --pitch-mm for a micrometer")
    wanted = None
    if profile_out is not None:
        if not instrument or not setting or made_on is None or valid_until is None:
            raise click.UsageError(
                "--profile-out needs --instrument, --setting, --made-on and --valid-until"
            )
        wanted = cards.ProfileWanted(profile_out, instrument, setting, made_on, valid_until)
    result = cards.measure_picture(photo, pitch_mm=pitch_mm, check_mm=check_mm, wanted=wanted)
    if as_json:
        print_json(result)
    else:
        for line in cards.measured_lines(result):
            click.echo(line)
