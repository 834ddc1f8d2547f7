"""Plots as SVG of our own: attributes only, no inline style, legible at print.

One unit is a quarter of a millimetre, so that text of 13 units prints at about
nine points. Lines differ by their strokes and carry their word and figure, so
that nothing hangs on colour. Values come as fractions and are shown in percent.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

WIDTH, HEIGHT = 640, 420
LEFT, TOP, RIGHT, BOTTOM = 76, 56, 468, 354  # the frame
INK, QUIET, BAND, MARK = "#1b1f24", "#6b7280", "#e3e7ec", "#1f4e79"
FONT = "'Source Sans 3', Helvetica, Arial, sans-serif"
Point = tuple[float, float]
NEAREST = 30.0  # least distance of two labels at the right


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
class DifferencePlot:
    """Differences against means; ``points`` are (mean, difference) as fractions."""

    title: str
    x_label: str
    y_label: str
    points: Sequence[tuple[float, float]]
    levels: Sequence[Level]
    described: str


def difference_svg(plot: DifferencePlot) -> str:
    """Return a plot of differences against means with its levels.

    Parameters
    ----------
    plot : DifferencePlot
        What to draw; its texts are shown as they are.

    Returns
    -------
    str
        SVG, 160 by 105 mm.
    """
    xs = [x for x, _ in plot.points]
    ys = [y for _, y in plot.points] + [v for s in plot.levels for v in (s.low, s.high)] + [0.0]
    x_ticks, y_ticks = ticks(100 * min(xs), 100 * max(xs)), ticks(100 * min(ys), 100 * max(ys))
    frame = _Frame(x_ticks, y_ticks)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="105mm" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" font-family="{FONT}" font-size="13" '
        f'fill="{INK}">',
        f"<title>{escape(plot.title)}</title>",
        f"<desc>{escape(plot.described)}</desc>",
        f'<rect x="0" y="0" width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        _text((LEFT, 30), plot.title, size=16, weight="600"),
        *_bands(plot.levels, frame),
        *_axes(frame, plot),
        *_levels(plot.levels, frame),
        *(
            f'<circle cx="{frame.x(x):.1f}" cy="{frame.y(y):.1f}" r="4" fill="{MARK}" '
            f'fill-opacity="0.55" stroke="{MARK}" stroke-width="1.2"/>'
            for x, y in plot.points
        ),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def ticks(low: float, high: float, *, about: int = 5) -> list[float]:
    """Return round tick values that enclose an interval.

    Parameters
    ----------
    low, high : float
        The interval; equal ends are widened.
    about : int, optional
        Roughly how many steps.

    Examples
    --------
    >>> ticks(0.3, 9.2)
    [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
    """
    span = max(high - low, 1e-3)
    raw = span / about
    power = 10 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1, 2, 2.5, 5, 10) if m * power >= raw * (1 - 1e-9))
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    if last == first:
        last += 1
    return [round(float(n * step), 10) for n in range(first, last + 1)]


class _Frame:
    """Turns fractions into places on the page; ticks are in percent."""

    def __init__(self, x_ticks: Sequence[float], y_ticks: Sequence[float]) -> None:
        self.x_ticks, self.y_ticks = x_ticks, y_ticks

    def x(self, share: float) -> float:
        low, high = self.x_ticks[0], self.x_ticks[-1]
        return LEFT + 12 + (RIGHT - LEFT - 24) * (100 * share - low) / (high - low)

    def y(self, share: float) -> float:
        low, high = self.y_ticks[0], self.y_ticks[-1]
        return BOTTOM - 8 - (BOTTOM - TOP - 16) * (100 * share - low) / (high - low)


def _bands(levels: Sequence[Level], frame: _Frame) -> Iterator[str]:
    for s in levels:
        top, bottom = frame.y(s.high), frame.y(s.low)
        yield (
            f'<rect x="{LEFT}" y="{top:.1f}" width="{RIGHT - LEFT}" '
            f'height="{max(bottom - top, 0):.1f}" fill="{BAND}" fill-opacity="0.75"/>'
        )


def _axes(frame: _Frame, plot: DifferencePlot) -> Iterator[str]:
    yield (
        f'<rect x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{BOTTOM - TOP}" '
        f'fill="none" stroke="{QUIET}" stroke-width="1"/>'
    )
    for value in frame.x_ticks:
        x = frame.x(value / 100)
        yield _line((x, BOTTOM), (x, BOTTOM + 5), QUIET)
        yield _text((x, BOTTOM + 20), _figure(value, frame.x_ticks), anchor="middle")
    for value in frame.y_ticks:
        y = frame.y(value / 100)
        yield _line((LEFT - 5, y), (LEFT, y), QUIET)
        yield _text((LEFT - 9, y + 4.5), _figure(value, frame.y_ticks), anchor="end")
    yield _line((LEFT, frame.y(0.0)), (RIGHT, frame.y(0.0)), QUIET, dashed="1.5 4")
    yield _text(((LEFT + RIGHT) / 2, BOTTOM + 44), plot.x_label, anchor="middle")
    yield (
        f'<text x="0" y="0" text-anchor="middle" '
        f'transform="translate(20 {(TOP + BOTTOM) / 2:.1f}) rotate(-90)">'
        f"{escape(plot.y_label)}</text>"
    )


def _levels(levels: Sequence[Level], frame: _Frame) -> Iterator[str]:
    places = _apart([frame.y(s.value) for s in levels])
    for s, place in zip(levels, places, strict=True):
        y = frame.y(s.value)
        yield _line((LEFT, y), (RIGHT, y), INK, width=1.6, dashed=s.dashed)
        yield _line((RIGHT, y), (RIGHT + 10, place), QUIET)
        yield _text((RIGHT + 14, place - 2), f"{s.label} {signed(s.value)}", weight="600")
        told = f"{signed(s.low)} to {signed(s.high)} (95 %)"
        yield _text((RIGHT + 14, place + 11), told, size=11, fill=QUIET)


def _apart(places: Sequence[float]) -> list[float]:
    """Return the places moved down so far that none lies too near another."""
    moved: dict[int, float] = {}
    last = -math.inf
    for i in sorted(range(len(places)), key=lambda i: places[i]):
        last = max(places[i], last + NEAREST)
        moved[i] = last
    over = max(0.0, last - (BOTTOM - 4))
    return [moved[i] - over for i in range(len(places))]


def signed(share: float) -> str:
    """Return a share as points with its sign, such as ``+1.23``.

    Parameters
    ----------
    share : float
        The share, [-].
    """
    text = f"{100 * share:+.2f}"
    return text.replace("-", "−") if float(text) else "0.00"


def _figure(value: float, values: Sequence[float]) -> str:
    step = values[1] - values[0]
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    if abs(step * 10**places - round(step * 10**places)) > 1e-6:
        places += 1
    return f"{value:.{places}f}".replace("-", "−")


def _line(start: Point, end: Point, stroke: str, *, width: float = 1, dashed: str = "") -> str:
    dash = f' stroke-dasharray="{dashed}"' if dashed else ""
    return (
        f'<line x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}" '
        f'stroke="{stroke}" stroke-width="{width}"{dash}/>'
    )


def _text(
    at: Point,
    text: str,
    *,
    size: int = 13,
    anchor: str = "start",
    weight: str = "400",
    fill: str = INK,
) -> str:
    return (
        f'<text x="{at[0]:.1f}" y="{at[1]:.1f}" font-size="{size}" text-anchor="{anchor}" '
        f'font-weight="{weight}" fill="{fill}">{escape(text)}</text>'
    )
