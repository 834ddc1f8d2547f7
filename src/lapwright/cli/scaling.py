"""Options that name the source of a picture's scale; exactly one source is taken."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from .common import Day

F = TypeVar("F", bound=Callable[..., Any])


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


class Numbers(click.ParamType[tuple[float, ...]]):
    """Several numbers with commas between them; ``form`` names them in the help."""

    def __init__(self, form: str, *counts: int) -> None:
        self.name = form
        self.counts = counts

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, ...]:
        """Return the numbers, or fail as a usage error."""
        if isinstance(value, tuple):
            return value
        try:
            numbers = tuple(float(part) for part in str(value).split(","))
        except ValueError:
            numbers = ()
        if len(numbers) not in self.counts:
            self.fail(f"'{value}' is not {self.name}", param, ctx)
        return numbers


CHECK = click.option(
    "--check-mm",
    type=Numbers("ACROSS[,ALONG]", 1, 2),
    help="Check lines of the printed card as measured, in mm.",
)
POSITIVE = click.FloatRange(min=0, min_open=True)
OPTIONS = (
    click.option("--px-per-mm", type=POSITIVE, help="Scale."),
    click.option("--overlap-mm", type=POSITIVE, help="Known overlap, where no scale is given."),
    click.option("--card", is_flag=True, default=None, help="A scale card lies in the picture."),
    CHECK,
    click.option(
        "--scale-line",
        "line",
        type=Numbers("X,Y,X,Y", 4),
        help="Ends of a line of known length in the picture, in pixels.",
    ),
    click.option("--scale-mm", "line_mm", type=POSITIVE, help="Length of that line."),
    click.option(
        "--micrometer",
        type=click.Path(path_type=Path),
        help="Picture of a stage micrometer, same setting.",
    ),
    click.option("--pitch-mm", type=POSITIVE, help="Distance of its neighbouring lines."),
    click.option(
        "--profile", type=click.Path(path_type=Path), help="Instrument profile (see card measure)."
    ),
    click.option("--as-of", type=Day(), help="Day on which the profile must hold."),
)


def scale_options(function: F) -> F:
    """Add every option that names a source of scale."""
    for option in reversed(OPTIONS):
        function = option(function)
    return function
