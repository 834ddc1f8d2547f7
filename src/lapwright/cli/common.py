"""What several commands share: JSON output, dates, places for keys, progress."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar

import click

from lapwright.core.errors import LapwrightError
from lapwright.core.times import parse_date

F = TypeVar("F", bound=Callable[..., Any])


class Day(click.ParamType[date]):
    """A civil date ``YYYY-MM-DD``."""

    name = "YYYY-MM-DD"

    def convert(self, value: Any, param: Any, ctx: Any) -> date:
        """Return the date, or fail as a usage error."""
        if isinstance(value, date):
            return value
        try:
            return parse_date(str(value))
        except LapwrightError as refusal:
            self.fail(str(refusal), param, ctx)


def as_of_option(function: F) -> F:
    """Add the required ``--as-of`` option."""
    return click.option(
        "--as-of", type=Day(), required=True, help="The civil day asked about; always stated."
    )(function)


def json_option(function: F) -> F:
    """Add the ``--json`` switch."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document on standard output."
    )(function)


def home_option(function: F) -> F:
    """Add the ``--home`` option: where keys and issued records live."""
    return click.option(
        "--home",
        type=click.Path(path_type=Path, file_okay=False),
        default=None,
        help="Folder of keys and issued records "
        "[default: $LAPWRIGHT_HOME, else ~/.local/share/lapwright].",
    )(function)


def home_folder(home: Path | None) -> Path:
    """Return the folder of keys and issued records."""
    if home is not None:
        return home
    named = os.environ.get("LAPWRIGHT_HOME")
    if named:
        return Path(named)
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(base) / "lapwright"


def print_json(document: object) -> None:
    """Print one JSON document on standard output."""
    click.echo(json.dumps(document, indent=2, ensure_ascii=False))


def progress(text: str) -> None:
    """Tell what is being done, on standard error."""
    click.echo(f"  … {text}", err=True)


def now() -> datetime:
    """Return the present moment in UTC, to the second."""
    return datetime.now(UTC).replace(microsecond=0)
