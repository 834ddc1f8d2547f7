"""Differences against means as SVG: attributes only, no inline style, legible at print.

Lines differ by their strokes and carry their word and figure, so that nothing
hangs on colour. Values come as fractions and are shown in percent.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from .plotparts import (
    BAND,
    BOTTOM,
    INK,
    LEFT,
    MARK,
    QUIET,
    RIGHT,
    Frame,
    figure,
    head,
    outline,
    signed,
    spaced,
    stroke,
    ticks,
    words,
)

Place = tuple[float, float, float, float]


@dataclass(frozen=True)
class Level:
    """A horizontal line with its 95 % interval and its word; fractions.

    ``dashed`` is the stroke pattern, empty for a solid line.
    """

    value: float
    low: float
    high: float
    label: str
    dashed: str = ""


@dataclass(frozen=True)
class Curve:
    """A line that depends on the mean: (mean, value, low, high) from left to right; fractions.

    ``told`` stands under its word; ``dashed`` is the stroke pattern.
    """

    places: Sequence[Place]
    label: str
    told: str
    dashed: str = ""


@dataclass(frozen=True)
class DifferencePlot:
    """Differences against means; ``points`` are (mean, difference) as fractions.

    Where the difference depends on the mean, ``curves`` stand in place of ``levels``.
    """

    title: str
    x_label: str
    y_label: str
    points: Sequence[tuple[float, float]]
    levels: Sequence[Level]
    described: str
    curves: Sequence[Curve] = ()


def difference_svg(plot: DifferencePlot) -> str:
    """Return a plot of differences against means with its levels or curves.

    Parameters
    ----------
    plot : DifferencePlot
        What to draw; its texts are shown as they are.

    Returns
    -------
    str
        SVG, 160 by 105 mm.
    """
    frame = _frame(plot)
    parts = [
        *head(plot.title, plot.described),
        *_bands(plot.levels, frame),
        *(_band(c, frame) for c in plot.curves),
        *_axes(frame, plot),
        *_levels(plot.levels, frame),
        *_curves(plot.curves, frame),
        *(
            f'<circle cx="{frame.x(100 * x):.1f}" cy="{frame.y(100 * y):.1f}" r="4" '
            f'fill="{MARK}" fill-opacity="0.55" stroke="{MARK}" stroke-width="1.2"/>'
            for x, y in plot.points
        ),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _frame(plot: DifferencePlot) -> Frame:
    xs = [x for x, _ in plot.points]
    ys = [y for _, y in plot.points] + [v for s in plot.levels for v in (s.low, s.high)] + [0.0]
    ys += [v for c in plot.curves for _, value, low, high in c.places for v in (value, low, high)]
    return Frame(ticks(100 * min(xs), 100 * max(xs)), ticks(100 * min(ys), 100 * max(ys)))


def _bands(levels: Sequence[Level], frame: Frame) -> Iterator[str]:
    for s in levels:
        top, bottom = frame.y(100 * s.high), frame.y(100 * s.low)
        yield (
            f'<rect x="{LEFT}" y="{top:.1f}" width="{RIGHT - LEFT}" '
            f'height="{max(bottom - top, 0):.1f}" fill="{BAND}" fill-opacity="0.75"/>'
        )


def _band(curve: Curve, frame: Frame) -> str:
    there = [(x, high) for x, _, _, high in curve.places]
    back = [(x, low) for x, _, low, _ in reversed(curve.places)]
    return f'<polygon points="{_joined(there + back, frame)}" fill="{BAND}" fill-opacity="0.75"/>'


def _joined(places: Sequence[tuple[float, float]], frame: Frame) -> str:
    return " ".join(f"{frame.x(100 * x):.1f},{frame.y(100 * y):.1f}" for x, y in places)


def _axes(frame: Frame, plot: DifferencePlot) -> Iterator[str]:
    yield from outline(frame, plot.x_label, plot.y_label)
    for value in frame.x_ticks:
        x = frame.x(value)
        yield stroke((x, BOTTOM), (x, BOTTOM + 5), QUIET)
        yield words((x, BOTTOM + 20), figure(value, frame.x_ticks), anchor="middle")


def _levels(levels: Sequence[Level], frame: Frame) -> Iterator[str]:
    places = spaced([frame.y(100 * s.value) for s in levels])
    for s, place in zip(levels, places, strict=True):
        y = frame.y(100 * s.value)
        yield stroke((LEFT, y), (RIGHT, y), INK, width=1.6, dashed=s.dashed)
        told = f"{signed(s.low)} to {signed(s.high)} (95 %)"
        yield from _label(y, place, f"{s.label} {signed(s.value)}", told)


def _curves(curves: Sequence[Curve], frame: Frame) -> Iterator[str]:
    ends = [frame.y(100 * c.places[-1][1]) for c in curves]
    for c, end, place in zip(curves, ends, spaced(ends), strict=True):
        dash = f' stroke-dasharray="{c.dashed}"' if c.dashed else ""
        points = _joined([(x, value) for x, value, _, _ in c.places], frame)
        yield f'<polyline points="{points}" fill="none" stroke="{INK}" stroke-width="1.6"{dash}/>'
        right = frame.x(100 * c.places[-1][0])
        yield stroke((right, end), (RIGHT, end), QUIET, dashed="1 3")
        yield from _label(end, place, c.label, c.told)


def _label(y: float, place: float, label: str, told: str) -> Iterator[str]:
    yield stroke((RIGHT, y), (RIGHT + 10, place), QUIET)
    yield words((RIGHT + 14, place - 2), label, weight="600")
    yield words((RIGHT + 14, place + 11), told, size=11, fill=QUIET)
