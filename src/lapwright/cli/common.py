"""What several commands share: JSON output, dates, places for keys, progress."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from lapwright.core.errors import LapwrightError
from lapwright.core.times import parse_date

if TYPE_CHECKING:
    from lapwright.desk.boot import Store
    from lapwright.ledger.log import Log
    from lapwright.services.programme import Programme

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


def asked_options(function: F) -> F:
    """Add the day asked about and the day of knowledge."""
    as_of = click.option(
        "--as-of", type=Day(), help="The civil day asked about [default: today, which is printed]."
    )
    known_by = click.option(
        "--known-by",
        type=Day(),
        help="Only what was written by the end of this day, in the programme's zone.",
    )
    return as_of(known_by(function))


def today() -> date:
    """Return the present civil day of this machine."""
    return datetime.now(UTC).astimezone().date()


def json_option(function: F) -> F:
    """Add the ``--json`` switch."""
    return click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document on standard output."
    )(function)


def data_option(function: F) -> F:
    """Add the ``--data`` option: where ledger, files and keys live."""
    return click.option(
        "--data",
        type=click.Path(path_type=Path, file_okay=False),
        default=None,
        help="Folder of ledger, files and keys "
        "[default: $LAPWRIGHT_DATA, else ~/.local/share/lapwright].",
    )(function)


def data_folder(data: Path | None) -> Path:
    """Return the folder of ledger, files and keys."""
    if data is not None:
        return data
    named = os.environ.get("LAPWRIGHT_DATA")
    if named:
        return Path(named)
    base = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local" / "share")
    return Path(base) / "lapwright"


def open_ledger(data: Path) -> Store:
    """Open the ledger of a data folder; the first time makes it.

    ``$LAPWRIGHT_DATABASE`` names a PostgreSQL database; its address may hold a
    password, which does not belong on a command line.
    """
    return opened(data, database=os.environ.get("LAPWRIGHT_DATABASE", ""))


def opened(data: Path, *, database: str = "") -> Store:
    """Open a ledger; say on standard error when its guards had to be put back."""
    from lapwright.desk.boot import open_store

    store = open_store(data, database=database)
    if store.mended:
        from lapwright.services.text import word

        click.echo(word("ledger.mended", guards="; ".join(store.mended)), err=True)
    return store


def open_data(data: Path | None, *, at: datetime) -> Programme:
    """Open ledger, files and keys of a data folder; the first time makes them."""
    from lapwright.services.programme import open_programme

    folder = data_folder(data)
    store = open_ledger(folder)
    return open_programme(folder, log=store.log, files=store.files, at=at)


def open_log(data: Path | None) -> Log:
    """Open the log of a data folder that is there already; no key is read."""
    from lapwright.services.programme import must_exist

    return open_ledger(must_exist(data_folder(data))).log


def open_existing(data: Path | None, *, at: datetime) -> Programme:
    """Open a data folder that is there already; see `open_data`."""
    from lapwright.services.programme import must_exist

    return open_data(must_exist(data_folder(data)), at=at)


def print_json(document: object) -> None:
    """Print one JSON document on standard output."""
    click.echo(json.dumps(document, indent=2, ensure_ascii=False))


def progress(text: str) -> None:
    """Tell what is being done, on standard error."""
    click.echo(f"  … {text}", err=True)


def now() -> datetime:
    """Return the present moment in UTC, to the second."""
    return datetime.now(UTC).replace(microsecond=0)
