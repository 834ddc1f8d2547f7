"""``lapwright readers``: how far readers, and the program, agree on the same faces."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lapwright.core.errors import LapwrightError

from .common import json_option, print_json


@click.command()
@click.argument("csv", type=click.Path(path_type=Path))
@click.option(
    "--limit",
    metavar="SHARE",
    help="Largest share that is Met under your adopted rule, such as 20 %; no default. "
    "Without it no verdicts are compared.",
)
@click.option(
    "--program",
    default="",
    metavar="READER",
    help="Reader id that stands for the program, in a file without the column 'way'.",
)
@click.option("--method", default="", help="The program's method version, if no column names it.")
@click.option(
    "--max-bias", metavar="SHARE", help="Largest bias that your shop accepts of the program."
)
@click.option(
    "--max-half-width",
    metavar="SHARE",
    help="Largest half-width of the limits of agreement that your shop accepts.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="New folder for plots, results and the method check.",
)
@json_option
def readers(
    csv: Path,
    limit: str | None,
    program: str,
    method: str,
    max_bias: str | None,
    max_half_width: str | None,
    out: Path | None,
    as_json: bool,
) -> None:
    """Study how far readers agree with themselves, each other and the program.

    No accuracy on real coupons is claimed until a shop's own method check has
    measured it. CSV holds one reading a row: face, reader, reading, share and,
    where needed, date, way, low, high, method, refused, image_sha256.
    """
    from lapwright.services import readerstudy

    if (max_bias is None) != (max_half_width is None):
        raise click.UsageError("--max-bias and --max-half-width go together")
    stated: dict[str, Any] = {
        name: readerstudy.share_option(text, option) if text is not None else None
        for name, option, text in (
            ("limit", "--limit", limit),
            ("max_bias", "--max-bias", max_bias),
            ("max_half_width", "--max-half-width", max_half_width),
        )
    }
    asked = readerstudy.Asked(**stated, method=method, program=program)
    study = readerstudy.study_readers(_open(csv, program), asked)
    _tell(study, out, as_json)


def _open(csv: Path, program: str) -> Any:
    """Read the file; faults of its rows are told one a line before the refusal."""
    from lapwright.services.readerstudy import open_readings

    try:
        return open_readings(csv, program=program)
    except LapwrightError as refusal:
        for fault in getattr(refusal, "faults", ()):
            click.echo(f"  {fault}", err=True)
        raise


def _tell(study: Any, out: Path | None, as_json: bool) -> None:
    from lapwright.services.atomic import write_folder
    from lapwright.services.readersreport import study_document, study_files
    from lapwright.services.readerswords import study_lines
    from lapwright.services.text import word

    if out is not None:
        write_folder(out, study_files(study))
    if as_json:
        print_json(study_document(study))
        return
    for line in study_lines(study):
        click.echo(line)
    if out is not None:
        click.echo(word("readers.written", folder=str(out)))
