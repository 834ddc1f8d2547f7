"""What the plots share: page, frame, ticks and marks, as SVG by attributes alone.

One unit is a quarter of a millimetre, so that text of 13 units prints at about
nine points.
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
NEAREST = 30.0  # least distance of two labels at the right
Point = tuple[float, float]


@dataclass(frozen=True)
class Frame:
    """Turns values into places on the page; the ticks bound both axes."""

    x_ticks: Sequence[float]
    y_ticks: Sequence[float]

    def x(self, value: float) -> float:
        """Return the place of a value across the page."""
        low, high = self.x_ticks[0], self.x_ticks[-1]
        return LEFT + 12 + (RIGHT - LEFT - 24) * (value - low) / (high - low)

    def y(self, value: float) -> float:
        """Return the place of a value down the page."""
        low, high = self.y_ticks[0], self.y_ticks[-1]
        return BOTTOM - 8 - (BOTTOM - TOP - 16) * (value - low) / (high - low)


def head(title: str, described: str) -> list[str]:
    """Return the first lines of a plot: its size, title, text alternative and paper.

    Parameters
    ----------
    title, described : str
        Shown above the frame, and read to whoever does not see it.
    """
    return [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="160mm" height="105mm" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" role="img" font-family="{FONT}" font-size="13" '
        f'fill="{INK}">',
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(described)}</desc>",
        f'<rect x="0" y="0" width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        words((LEFT, 30), title, size=16, weight="600"),
    ]


def outline(frame: Frame, x_label: str, y_label: str) -> Iterator[str]:
    """Yield frame, upright ticks, the line of zero and both labels.

    Parameters
    ----------
    frame : Frame
        Its ticks are drawn up the page.
    x_label, y_label : str
        Words of the axes.
    """
    yield (
        f'<rect x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{BOTTOM - TOP}" '
        f'fill="none" stroke="{QUIET}" stroke-width="1"/>'
    )
    for value in frame.y_ticks:
        y = frame.y(value)
        yield stroke((LEFT - 5, y), (LEFT, y), QUIET)
        yield words((LEFT - 9, y + 4.5), figure(value, frame.y_ticks), anchor="end")
    yield stroke((LEFT, frame.y(0.0)), (RIGHT, frame.y(0.0)), QUIET, dashed="1.5 4")
    yield words(((LEFT + RIGHT) / 2, BOTTOM + 44), x_label, anchor="middle")
    yield (
        f'<text x="0" y="0" text-anchor="middle" '
        f'transform="translate(20 {(TOP + BOTTOM) / 2:.1f}) rotate(-90)">'
        f"{escape(y_label)}</text>"
    )


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


def spaced(places: Sequence[float]) -> list[float]:
    """Return places of labels, moved down so far that none lies too near another.

    Parameters
    ----------
    places : sequence of float
        Down the page, in any order.
    """
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


def figure(value: float, values: Sequence[float]) -> str:
    """Return the figure of a tick, with the places that the step of all needs.

    Parameters
    ----------
    value : float
        The tick.
    values : sequence of float
        All ticks.
    """
    step = values[1] - values[0]
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    if abs(step * 10**places - round(step * 10**places)) > 1e-6:
        places += 1
    return f"{value:.{places}f}".replace("-", "−")


def stroke(start: Point, end: Point, colour: str, *, width: float = 1, dashed: str = "") -> str:
    """Return a straight line.

    Parameters
    ----------
    start, end : tuple of float
        Places on the page.
    colour : str
        As ``#rrggbb``.
    width : float, optional
        Of the stroke.
    dashed : str, optional
        Stroke pattern; empty for a solid line.
    """
    dash = f' stroke-dasharray="{dashed}"' if dashed else ""
    return (
        f'<line x1="{start[0]:.1f}" y1="{start[1]:.1f}" x2="{end[0]:.1f}" y2="{end[1]:.1f}" '
        f'stroke="{colour}" stroke-width="{width}"{dash}/>'
    )


def words(
    at: Point,
    text: str,
    *,
    size: int = 13,
    anchor: str = "start",
    weight: str = "400",
    fill: str = INK,
) -> str:
    """Return a line of text.

    Parameters
    ----------
    at : tuple of float
        Place of its anchor on the base line.
    text : str
        Shown as it is.
    size : int, optional
        Height of the letters.
    anchor : str, optional
        ``start``, ``middle`` or ``end``.
    weight, fill : str, optional
        Weight and colour of the letters.
    """
    return (
        f'<text x="{at[0]:.1f}" y="{at[1]:.1f}" font-size="{size}" text-anchor="{anchor}" '
        f'font-weight="{weight}" fill="{fill}">{escape(text)}</text>'
    )
