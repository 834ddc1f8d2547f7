"""``lapwright face``: read one prepared face from a photograph."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from lapwright.core.errors import LapwrightError

from .common import json_option, print_json
from .facebatch import NAMES, batch_options, check_usage, read_batch
from .scaling import POSITIVE, PointXY, scale_options


@click.command()
@click.argument("photo", type=click.Path(path_type=Path), required=False)
@click.option("--tube-end", type=PointXY(), help="Tube end, inside the fitting, in pixels.")
@click.option("--cup-face", type=PointXY(), help="Cup face, the mouth of the fitting, in pixels.")
@scale_options
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
@click.option(
    "--members/--no-members",
    default=None,
    help="Look at both walls and the clearance too [default: yes].",
)
@click.option("--tube-od-mm", type=POSITIVE, help="Tube's outside diameter as measured.")
@click.option(
    "--tube-wall-mm",
    type=POSITIVE,
    help="Tube's wall as measured, away from the joint: the sound length in walls, and with "
    "--tube-od-mm whether the cut misses the axis.",
)
@batch_options
@json_option
def face(
    photo: Path | None,
    tube_end: tuple[float, float] | None,
    cup_face: tuple[float, float] | None,
    overlay: Path | None,
    grid: Path | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Read one prepared face: how much of the overlap holds no filler.

    With --batch, read the faces of many photographs.
    """
    from lapwright.services import faceview
    from lapwright.services.scales import ScaleAsked

    many = {name: options.pop(name) for name in NAMES}
    of_one = {k: v for k, v in click.get_current_context().params.items() if k not in many}
    check_usage(many, {k: v for k, v in of_one.items() if k != "as_json"})
    if photo is None:
        read_batch(many, as_json=as_json)
        return
    if (tube_end is None) != (cup_face is None):
        raise click.UsageError("--tube-end and --cup-face go together")
    members = _members_asked(options)
    try:
        result = faceview.view_face(
            photo,
            tube_end,
            cup_face,
            scale=ScaleAsked(**options),
            overlay=overlay,
            grid=grid,
            members=members,
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


def _members_asked(options: dict[str, Any]) -> Any:
    """Take the options about the two walls and the tube out of all options."""
    from lapwright.services.faceview import MembersAsked
    from lapwright.services.memberview import TubeSize

    wanted, od, wall = (options.pop(k) for k in ("members", "tube_od_mm", "tube_wall_mm"))
    if od is not None and wall is None:
        raise click.UsageError("--tube-od-mm needs --tube-wall-mm")
    if wanted is False and od is not None:
        raise click.UsageError("--no-members does not go with --tube-od-mm")
    tube = None if wall is None else TubeSize(wall, od)
    return MembersAsked("no" if wanted is False else "yes", tube)
