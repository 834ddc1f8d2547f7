"""A reader's cumulative sums as SVG: upper sums above zero, lower sums below.

The upper line is solid with round marks, the lower one dashed with square marks;
a signal is a triangle with its day. Nothing hangs on colour.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from .plotparts import (
    BOTTOM,
    INK,
    LEFT,
    MARK,
    QUIET,
    RIGHT,
    Frame,
    head,
    outline,
    spaced,
    stroke,
    ticks,
    words,
)

MOST_DAYS = 5  # days named under the frame
LETTER = 6.3  # mean width of a letter of the signals' words


@dataclass(frozen=True)
class SumsPlot:
    """Upper and lower sums in order of time, in units of s.

    ``days`` are shown as they are; ``signals`` are (place, side) with side ``high`` or
    ``low``; ``labels`` name upper sum, decision interval, lower sum and a signal.
    """

    title: str
    x_label: str
    y_label: str
    days: Sequence[str]
    high: Sequence[float]
    low: Sequence[float]
    decision: float
    signals: Sequence[tuple[int, str]]
    labels: tuple[str, str, str, str]
    described: str


def sums_svg(plot: SumsPlot) -> str:
    """Return a chart of cumulative sums.

    Parameters
    ----------
    plot : SumsPlot
        What to draw; its texts are shown as they are.

    Returns
    -------
    str
        SVG, 160 by 105 mm.
    """
    down = [-v for v in plot.low]
    top = max(plot.decision, *plot.high)
    bottom = min(-plot.decision, *down)
    frame = Frame([0.0, max(1.0, len(plot.days) - 1.0)], ticks(1.05 * bottom, 1.05 * top, about=6))
    parts = [
        *head(plot.title, plot.described),
        *outline(frame, plot.x_label, plot.y_label),
        *_days(plot.days, frame),
        *_intervals(plot, frame),
        _path(plot.high, frame, ""),
        _path(down, frame, "5 3"),
        *(_round(i, v, frame) for i, v in enumerate(plot.high)),
        *(_square(i, v, frame) for i, v in enumerate(down)),
        *_signals(plot, frame),
        *_names(plot, frame),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _days(days: Sequence[str], frame: Frame) -> Iterator[str]:
    last = len(days) - 1
    count = min(MOST_DAYS, len(days))
    for place in sorted({round(n * last / max(1, count - 1)) for n in range(count)}):
        x = frame.x(place)
        yield stroke((x, BOTTOM), (x, BOTTOM + 5), QUIET)
        yield words((x, BOTTOM + 20), days[place], size=12, anchor="middle")


def _intervals(plot: SumsPlot, frame: Frame) -> Iterator[str]:
    for value in (plot.decision, -plot.decision):
        y = frame.y(value)
        yield stroke((LEFT, y), (RIGHT, y), INK, width=1.6, dashed="9 3 2 3")


def _path(values: Sequence[float], frame: Frame, dashed: str) -> str:
    points = " ".join(f"{frame.x(i):.1f},{frame.y(v):.1f}" for i, v in enumerate(values))
    dash = f' stroke-dasharray="{dashed}"' if dashed else ""
    return f'<polyline points="{points}" fill="none" stroke="{MARK}" stroke-width="1.4"{dash}/>'


def _round(place: int, value: float, frame: Frame) -> str:
    return f'<circle cx="{frame.x(place):.1f}" cy="{frame.y(value):.1f}" r="2.6" fill="{MARK}"/>'


def _square(place: int, value: float, frame: Frame) -> str:
    x, y = frame.x(place) - 2.5, frame.y(value) - 2.5
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="5" height="5" fill="#ffffff" stroke="{MARK}" '
        f'stroke-width="1.2"/>'
    )


def _signals(plot: SumsPlot, frame: Frame) -> Iterator[str]:
    for place, side in plot.signals:
        up = side == "high"
        x, y = frame.x(place), frame.y(plot.high[place] if up else -plot.low[place])
        tip, foot = (y - 7, y + 5) if up else (y + 7, y - 5)
        yield (
            f'<polygon points="{x:.1f},{tip:.1f} {x - 7:.1f},{foot:.1f} {x + 7:.1f},{foot:.1f}" '
            f'fill="#ffffff" stroke="{INK}" stroke-width="1.8"/>'
        )
        yield from _told(f"{plot.labels[3]} {plot.days[place]}", (x, y), up)


def _told(text: str, at: tuple[float, float], up: bool) -> Iterator[str]:
    """Yield a signal's words outside the sums where there is room, else towards zero."""
    width = LETTER * len(text)
    left = at[0] - 12 - width > LEFT
    away = 9 if left else -17  # from zero: beside a rising line the upper left is free
    base = at[1] + 4 - (away if up else -away)
    start = at[0] - 12 - width if left else at[0] + 12
    yield (
        f'<rect x="{start - 2:.1f}" y="{base - 11:.1f}" width="{width + 4:.1f}" height="15" '
        f'fill="#ffffff" fill-opacity="0.85"/>'
    )
    yield words((start, base), text, size=12, weight="600")


def _names(plot: SumsPlot, frame: Frame) -> Iterator[str]:
    upper, decision, lower, _ = plot.labels
    rows = [
        (plot.decision, f"{decision} +{plot.decision:g} s"),
        (plot.high[-1], upper),
        (-plot.low[-1], lower),
        (-plot.decision, f"{decision} −{plot.decision:g} s"),
    ]
    ends = [frame.y(value) for value, _ in rows]
    for (_, label), y, place in zip(rows, ends, spaced(ends), strict=True):
        yield stroke((RIGHT, y), (RIGHT + 10, place), QUIET)
        yield words((RIGHT + 14, place + 4), label, weight="600")
