"""The map of one joint, unrolled: faces by clock position and depth. Values in, SVG out.

A picture for teaching. It shows what each cut shows and nothing in between: a place
where two neighbouring cuts lack filler at one depth gets a dotted line and the letter
J, never an area. States differ by hatching and letter first, by colour second.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from xml.sax.saxutils import escape

from .glyphs import check_characters
from .jointcolumns import INK, draw_axes, draw_beneath, draw_columns, draw_links, hatches
from .jointframe import MARGIN, plot_frame
from .jointkey import draw_dial, draw_key, draw_words
from .jointlayout import Span
from .jointvalues import JOINT_MAP_LABELS, JointMap, MapFace, Stretch, check_map
from .labels import take_labels
from .svg import FONT, element, number, words, wrap

__all__ = ["JOINT_MAP_LABELS", "JointMap", "MapFace", "Span", "Stretch", "joint_map_svg"]


def joint_map_svg(chart: JointMap, labels: Mapping[str, str]) -> str:
    """Draw one joint unrolled.

    Parameters
    ----------
    chart : JointMap
        The joint, its own faces, and the words around them.
    labels : mapping of str to str
        The texts of `JOINT_MAP_LABELS`.

    Returns
    -------
    str
        One SVG element with title, description and a white ground, 738 units wide or
        wider; equal input gives equal text. It holds no style and fetches nothing, so
        it stands in a page, in a file and in a typeset document.

    Raises
    ------
    JointMapRefused
        For values that make no map.
    GlyphMissing
        For a character that cannot be printed.
    LabelsMissing
        For a label that the catalogue lacks.
    """
    check_map(chart)
    check_characters(chart)
    texts = take_labels(labels, JOINT_MAP_LABELS)
    prefix = "jm" + hashlib.sha256(chart.joint.encode()).hexdigest()[:8]
    width = plot_frame(chart.faces, top=0.0).width
    head, y = _head(chart, width)
    frame = plot_frame(chart.faces, top=y + 80)
    beneath, y = draw_beneath(frame, chart.faces, prefix)
    dial, dial_end = draw_dial(frame, chart.faces, y + 18, texts["jointmap.dial.heading"])
    key, key_end = draw_key(frame, chart.faces, texts, y + 18, prefix=prefix)
    told, y = draw_words(chart, frame, texts["jointmap.hints.heading"], max(dial_end, key_end) + 16)
    body = (
        *head,
        *draw_axes(frame, texts),
        *draw_links(frame, chart.faces),
        *draw_columns(frame, chart.faces, prefix),
        *beneath,
        *dial,
        *key,
        *told,
    )
    return _wrapped(chart, body, (width, y), prefix)


def _head(chart: JointMap, width: float) -> tuple[tuple[str, ...], float]:
    parts, y, room = [], 28.0, width - 2 * MARGIN
    for line in wrap(chart.title, room, 18, weight="bold"):
        parts.append(words(line, MARGIN, y, size=18, font_weight="bold"))
        y += 22
    for line in wrap(chart.subtitle, room, 12):
        parts.append(words(line, MARGIN, y - 2))
        y += 15
    top, y = y, y + 17
    lines = []
    for notice in chart.notices:
        for line in wrap(notice, room - 20, 12.5, weight="bold"):
            lines.append(words(line, MARGIN + 10, y, size=12.5, font_weight="bold"))
            y += 16
    frame = element(
        "rect",
        x=MARGIN,
        y=top,
        width=room,
        height=y - top - 6,
        fill="#fbf6e6",
        stroke=INK,
        stroke_width=1.2,
    )
    return (*parts, frame, *lines), y - 6


def _wrapped(chart: JointMap, body: tuple[str, ...], size: tuple[float, float], prefix: str) -> str:
    width, height = size
    return element(
        "svg",
        element("title", escape(chart.title), id=f"{prefix}-title"),
        element("desc", escape(chart.description), id=f"{prefix}-desc"),
        hatches(prefix),
        element("rect", width=width, height=height, fill="#ffffff"),
        element("g", *(f"\n{part}" for part in body), font_family=FONT, fill=INK),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}",
        role="img",
        aria_labelledby=f"{prefix}-title {prefix}-desc",
        lang="en",
    )
