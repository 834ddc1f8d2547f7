"""``lapwright peel``: read a peeled lap surface from a photograph and a mask."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lapwright.core.errors import LapwrightError

from .common import json_option, print_json

PNG = click.Path(path_type=Path, dir_okay=False)


class Points(click.ParamType[tuple[tuple[float, float], ...]]):
    """Points ``x,y,x,y,...`` in pixels."""

    name = "X,Y,..."

    def __init__(self, count: int | None = None) -> None:
        self.count = count

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[tuple[float, float], ...]:
        """Return the points, or fail as a usage error."""
        if isinstance(value, tuple):
            return value
        try:
            numbers = [float(part) for part in str(value).split(",")]
        except ValueError:
            self.fail(f"'{value}' is not a list of points like 120,80,940,84", param, ctx)
        points = tuple(zip(numbers[::2], numbers[1::2], strict=False))
        if len(numbers) % 2 or self.count not in (None, len(points)):
            wanted = "pairs of numbers" if self.count is None else f"{self.count} points"
            self.fail(f"'{value}' are {len(numbers)} numbers, not {wanted}", param, ctx)
        return points


@click.command()
@click.argument("photo", type=click.Path(path_type=Path))
@click.option(
    "--outline",
    type=Points(),
    help="Corners of the lap surface in pixels; four corners go mouth left, mouth right, "
    "stop right, stop left.",
)
@click.option(
    "--mask",
    type=PNG,
    help="Mask PNG of the photograph's size: outside 0, discontinuity 80, unsure 160, sound 240.",
)
@click.option(
    "--mask-values",
    metavar="NAME=GREY,...",
    help="Other greys of the mask, such as discontinuity=255,sound=0.",
)
@click.option(
    "--lap",
    type=Points(2),
    metavar="X,Y,X,Y",
    help="Lap direction: a point at the mouth edge and one at the stop edge "
    "[default: from four corners].",
)
@click.option(
    "--lap-angle",
    type=float,
    metavar="DEG",
    help="Instead its angle from the picture's right, clockwise; 90 points down.",
)
@click.option("--px-per-mm", type=click.FloatRange(min=0, min_open=True), help="Scale.")
@click.option("--overlay", type=PNG, help="Write the picture with what was read (PNG).")
@click.option(
    "--propose",
    type=PNG,
    help="Write the proposed mask (PNG), to be corrected and given with --mask.",
)
@json_option
def peel(
    photo: Path,
    outline: tuple[tuple[float, float], ...] | None,
    mask: Path | None,
    mask_values: str | None,
    overlay: Path | None,
    propose: Path | None,
    as_json: bool,
    **rest: Any,
) -> None:
    """Read a peeled lap surface: discontinuity area, worst line, path from edge to edge.

    With a mask the three answers are exact for its pixels. Without one the
    program proposes classes inside the outline, and a person must correct them.
    """
    from lapwright.services import peeldocument, peelview

    _check(mask, mask_values, propose=propose, overlay=overlay, rest=rest)
    question = peelview.PeelQuestion(
        outline=outline or (),
        mask=mask,
        mask_values=mask_values or "",
        lap=rest["lap"],
        lap_angle_deg=rest["lap_angle"],
        px_per_mm=rest["px_per_mm"],
    )
    try:
        result = peelview.view_peel(photo, question, overlay=overlay, propose=propose)
    except LapwrightError as refusal:
        if as_json:
            click.echo(str(refusal), err=True)
            print_json(peeldocument.refused(refusal))
            raise SystemExit(1) from None
        raise
    if as_json:
        print_json(result)
    else:
        for line in peeldocument.lines(result):
            click.echo(line)


def _check(
    mask: Path | None,
    mask_values: str | None,
    *,
    propose: Path | None,
    overlay: Path | None,
    rest: dict[str, Any],
) -> None:
    """Refuse options that contradict each other."""
    if rest["lap"] is not None and rest["lap_angle"] is not None:
        raise click.UsageError("give --lap or --lap-angle, not both")
    if mask is None and mask_values is not None:
        raise click.UsageError("--mask-values goes with --mask")
    if mask is not None and propose is not None:
        raise click.UsageError("--propose works from the photograph; leave --mask out")
    if propose is not None and overlay is not None and propose.resolve() == overlay.resolve():
        raise click.UsageError("--propose and --overlay need two files")
