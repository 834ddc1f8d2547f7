"""``lapwright face``: read one prepared face from a photograph."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lapwright.core.errors import LapwrightError

from .common import json_option, print_json
from .facebatch import batch_options, check_usage, read_batch


class PointXY(click.ParamType[tuple[float, float]]):
    """A point ``X,Y`` in pixels."""

    name = "X,Y"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, float]:
        """Return the two numbers, or fail as a usage error."""
        if isinstance(value, tuple):
            return value
        try:
            x, y = (float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"'{value}' is not a point like 1204,873", param, ctx)
        return x, y


@click.command()
@click.argument("photo", type=click.Path(path_type=Path), required=False)
@click.option("--tube-end", type=PointXY(), help="Tube end, inside the fitting, in pixels.")
@click.option("--cup-face", type=PointXY(), help="Cup face, the mouth of the fitting, in pixels.")
@click.option("--px-per-mm", type=click.FloatRange(min=0, min_open=True), help="Scale.")
@click.option(
    "--overlap-mm",
    type=click.FloatRange(min=0, min_open=True),
    help="Known overlap, where no scale is given.",
)
@click.option(
    "--overlay",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the picture with the traced line and segments (PNG).",
)
@click.option(
    "--grid",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the picture with a labelled pixel grid (PNG), to read the ends off.",
)
@batch_options
@json_option
def face(
    photo: Path | None,
    tube_end: tuple[float, float] | None,
    cup_face: tuple[float, float] | None,
    px_per_mm: float | None,
    overlap_mm: float | None,
    overlay: Path | None,
    grid: Path | None,
    as_json: bool,
    **many: Any,
) -> None:
    """Read one prepared face: how much of the overlap holds no filler.

    With --batch, read the faces of many photographs.
    """
    from lapwright.services import faceview

    of_one = {k: v for k, v in click.get_current_context().params.items() if k not in many}
    check_usage(many, {k: v for k, v in of_one.items() if k != "as_json"})
    if photo is None:
        read_batch(many, as_json=as_json)
        return
    if (tube_end is None) != (cup_face is None):
        raise click.UsageError("--tube-end and --cup-face go together")
    try:
        result = faceview.view_face(
            photo,
            tube_end,
            cup_face,
            px_per_mm=px_per_mm,
            overlap_mm=overlap_mm,
            overlay=overlay,
            grid=grid,
        )
    except LapwrightError as refusal:
        if as_json:
            print_json(faceview.refused(refusal))
            raise SystemExit(1) from None
        raise
    if as_json:
        print_json(result)
    else:
        for line in faceview.lines(result):
            click.echo(line)
