"""``lapwright judge``, ``issue`` and ``range``: what a case folder amounts to."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from .common import (
    Day,
    as_of_option,
    data_option,
    json_option,
    now,
    open_data,
    print_json,
    progress,
)

CASE = click.argument("case_dir", type=click.Path(path_type=Path))


@click.command()
@CASE
@as_of_option
@click.option(
    "--joint-maps",
    type=click.Path(path_type=Path, file_okay=False),
    default=None,
    help="Folder to write one drawing a joint to (SVG): its faces unrolled, for teaching.",
)
@json_option
def judge(case_dir: Path, as_of: date, joint_maps: Path | None, as_json: bool) -> None:
    """Judge a case folder: findings, faces, decision, range. Writes nothing to the case."""
    from lapwright.services import jointmap
    from lapwright.services.casereport import case_document, case_lines
    from lapwright.services.judging import judge_case

    if joint_maps is not None:
        jointmap.check_out(joint_maps, case_dir)
    judged = judge_case(case_dir, as_of=as_of, progress=progress)
    written = []
    if joint_maps is not None:
        evidence = judged.judged.judgement.evidence
        written = jointmap.write_joint_maps(evidence, joint_maps).lines()
    if as_json:
        print_json(case_document(judged))
    else:
        for line in case_lines(judged):
            click.echo(line)
    for line in written:
        click.echo(line, err=as_json)


@click.command()
@CASE
@as_of_option
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="Folder to write the record to.",
)
@data_option
@json_option
def issue(case_dir: Path, as_of: date, out: Path, data: Path | None, as_json: bool) -> None:
    """File a case and issue its signed record; issuing again gives the same record."""
    from lapwright.services.issuing import issue_case

    at = now()
    programme = open_data(data, at=at)
    issued = issue_case(case_dir, programme, as_of=as_of, out=out, at=at, progress=progress)
    if as_json:
        print_json(issued.as_dict())
    else:
        for line in issued.lines():
            click.echo(line)


@click.command(name="range")
@click.argument("source", type=click.Path(path_type=Path))
@click.option(
    "--as-of",
    type=Day(),
    default=None,
    help="The civil day asked about; needed for a case folder, a record carries its own.",
)
@click.option("--covered", is_flag=True, help="Leave out what is not covered.")
@json_option
def range_(source: Path, as_of: date | None, covered: bool, as_json: bool) -> None:
    """What a case folder or a record covers: variables, then sizes and fittings with reasons."""
    from lapwright.services.rangelist import range_document, range_lines, range_of
    from lapwright.services.text import word

    if as_of is None and source.is_dir():
        raise click.UsageError("a case folder needs --as-of YYYY-MM-DD")
    found = range_of(source, as_of=as_of, progress=progress)
    notice = "" if source.is_dir() else word("range.not_verified")
    if as_json:
        print_json(range_document(found) | ({"notice": notice} if notice else {}))
    else:
        if notice:
            click.echo(notice)
        for line in range_lines(found, covered_only="yes" if covered else ""):
            click.echo(line)
