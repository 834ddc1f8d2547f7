"""A small writer of SVG: elements with attributes only, texts that know how wide they are.

No style sheets, no inline styles, no scripts, nothing fetched: the drawings stand
in a page with a strict content policy, open in any viewer and go into a PDF.
"""

from __future__ import annotations

import re
from xml.sax.saxutils import escape, quoteattr

FONT = "'Source Sans 3', Helvetica, Arial, sans-serif"
BOLD_FACTOR = 1.08
# Em widths of classes of characters: those of the Helvetica metrics or a little wider, which the
# shipped Source Sans stays below. Anything unlisted counts as a full em.
_CLASSES = (
    ("ijl'|", 0.25),
    (" \u00a0!,./:;If[]\\t·–", 0.30),
    ('()-r`"°', 0.37),
    ("Jckvsxyz*", 0.52),
    ("0123456789abdeghnopquL#$?_<>+=~^{}T", 0.60),
    ("FPEZSABKVXY&", 0.69),
    ("CDHNRUwG", 0.75),
    ("OQ", 0.80),
    ("mM%", 0.91),
)
_UNIT = re.compile(r"(?<=\d) (?=(?:%|mm|in|deg)(?:\W|$))")  # a figure keeps its unit
_EM = {char: width for chars, width in _CLASSES for char in chars}


def number(value: float) -> str:
    """Return a coordinate with two decimals at most.

    Examples
    --------
    >>> number(12.0), number(0.3333)
    ('12', '0.33')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".") if value else "0"


def element(name: str, *inner: str, **attributes: str | float) -> str:
    """Return one element; underscores of attribute names become hyphens.

    Parameters
    ----------
    name : str
        Tag name.
    *inner : str
        Content that is markup already.
    **attributes : str or float
        Attributes; numbers are written with two decimals at most.
    """
    told = "".join(
        f" {key.rstrip('_').replace('_', '-')}="
        + quoteattr(value if isinstance(value, str) else number(value))
        for key, value in attributes.items()
    )
    return f"<{name}{told}>{''.join(inner)}</{name}>" if inner else f"<{name}{told}/>"


def words(text: str, x: float, y: float, *, size: float = 12, **more: str | float) -> str:
    """Return a text element with its baseline at (x, y), in drawing units."""
    return element("text", escape(text), x=x, y=y, font_size=size, **more)


def text_width(text: str, size: float, *, weight: str = "normal") -> float:
    """Estimate the width of a text, on the safe side, in the units of ``size``.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Font size, drawing units.
    weight : str, optional
        ``normal`` or ``bold``.
    """
    wide = sum(_EM.get(char, 1.0) for char in text) * size
    return wide * BOLD_FACTOR if weight == "bold" else wide


def wrap(text: str, width: float, size: float, *, weight: str = "normal") -> list[str]:
    """Break a text into lines that fit ``width``; a word that is too long is broken as well.

    A figure and its unit stay on one line.

    Parameters
    ----------
    text : str
        Text of any length.
    width : float
        Room for a line, drawing units; at least one character always stands on a line.
    size : float
        Font size, drawing units.
    weight : str, optional
        ``normal`` or ``bold``.
    """
    lines: list[str] = []
    for piece in _UNIT.sub("\u00a0", " ".join(text.split())).split(" "):
        joined = f"{lines[-1]} {piece}" if lines else piece
        if lines and text_width(joined, size, weight=weight) <= width:
            lines[-1] = joined
        else:
            lines += _broken(piece, width, size, weight)
    return [line.replace("\u00a0", " ") for line in lines]


def _broken(piece: str, width: float, size: float, weight: str) -> list[str]:
    lines = [""]
    for char in piece:
        if lines[-1] and text_width(lines[-1] + char, size, weight=weight) > width:
            lines.append("")
        lines[-1] += char
    return lines
