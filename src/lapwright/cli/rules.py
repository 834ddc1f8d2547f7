"""``lapwright rules``: what the rule library holds, and the booklet to tick."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from .common import Day, json_option, now, print_json

EDITION = click.option(
    "--edition",
    "editions",
    multiple=True,
    metavar="'CODE EDITION'",
    help="Only this edition, such as 'nfpa-99 2018'; may be repeated.",
)


@click.group()
def rules() -> None:
    """The rules: list, show, sources, booklet."""


@rules.command("list")
@EDITION
@json_option
def list_(editions: tuple[str, ...], as_json: bool) -> None:
    """List every rule with its figure, citation and how it is known."""
    from lapwright.services.rulesview import list_rows

    rows = list_rows(editions)
    if as_json:
        print_json(rows)
        return
    for row in rows:
        click.echo(
            f"{row['rule']:<52} {row['shown']}  [{row['basis']}"
            f"{' ' + row['sure'] if row['sure'] else ''}]"
        )
        click.echo(f"    {row['title']} — {row['cite']}")


@rules.command()
@click.argument("key", metavar="CODE/EDITION/RULE")
@json_option
def show(key: str, as_json: bool) -> None:
    """Show one rule with all its dated values."""
    from lapwright.services.rulesview import show_rows

    rows = show_rows(key)
    if as_json:
        print_json(rows)
        return
    for row in rows:
        click.echo(f"{row['key']}  from {row['since']}")
        click.echo(f"  {row['title']}")
        click.echo(
            f"  figure: {row['figure']}  unit: {row['unit']}  operator: {row['operator'] or '-'}"
        )
        click.echo(
            f"  source: {row['cite']['title']}, {row['cite']['where']} "
            f"[{row['cite']['basis']} {row['sure']}]"
        )
        if row["unread"]:
            click.echo(f"  unread: {row['unread']}")
        if row["notes"]:
            click.echo(f"  note: {row['notes']}")


@rules.command()
@json_option
def sources(as_json: bool) -> None:
    """List the published sources and how far they were read."""
    from lapwright.services.rulesview import source_rows

    rows = source_rows()
    if as_json:
        print_json(rows)
        return
    for row in rows:
        click.echo(f"{row['source']:<28} {row['title']}")
        if row.get("readers"):
            click.echo(f"    {row['readers']}")


@rules.command()
@EDITION
@click.option(
    "--case",
    type=click.Path(path_type=Path),
    default=None,
    help="The booklet of a case folder: all that its decision rests on.",
)
@click.option("--as-of", type=Day(), default=None, help="The civil day, with --case.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the booklet as a PDF to print and tick.",
)
@click.option(
    "--ticks",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the ticks file to complete and name in the case's basis.",
)
@json_option
def booklet(
    editions: tuple[str, ...],
    case: Path | None,
    as_of: date | None,
    out: Path | None,
    ticks: Path | None,
    as_json: bool,
) -> None:
    """The deciding figures, to compare with your own copies and tick."""
    from lapwright.services import rulesview

    if (case is None) != (as_of is None):
        raise click.UsageError("--case and --as-of go together")
    rows = rulesview.booklet_rows(editions, case, as_of)
    if out is not None:
        whose = rulesview.programme_of(case, as_of) if case and as_of else ""
        rulesview.write_booklet(rows, out, at=now(), programme=whose)
    if ticks is not None:
        rulesview.write_ticks(rows, ticks)
    if as_json:
        print_json(rows)
        return
    if out is None and ticks is None:
        for row in rows:
            click.echo(f"{row['number']:>3}  ☐ {row['label'] or row['title']}: {row['words']}")
            click.echo(f"        {row['cite']} [{row['basis']} {row['sure']}]")
    for path in (out, ticks):
        if path is not None:
            click.echo(f"Written: {path}")
