"""Digits of government numbers: masked in typed text, refused in ids and marks.

Looked for are nine digits, bare or in groups of 3-2-4 or 3-3-3 with spaces, tabs or a
dash between, longer bare runs, and the last four beside masked ones. A program cannot
know every country's form (common practice, no source): whoever types still leaves such
numbers out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from .errors import PaperNumberRefused

MASK = "•"
# \s is every kind of space, tabs and line ends too; eight of them are a gap, more are a column.
_GAP = r"\s{0,4}[-./\u2010-\u2015\u2212]?\s{0,4}"
_HIDDEN = r"[xX*#•·]"
_NUMBER = re.compile(
    rf"(?<!\d)(?:\d{{3}}{_GAP}\d{{2}}{_GAP}\d{{4}}|\d{{3}}{_GAP}\d{{3}}{_GAP}\d{{3}}|\d{{9,}})(?!\d)"
    rf"|{_HIDDEN}{{3}}{_GAP}{_HIDDEN}{{2}}{_GAP}\d{{4}}(?!\d)"
)
_FIGURE = re.compile(r"^\d*\.\d+ ?[A-Za-z%µ3/-]*$")  # 0.123456789 in is a length


def masked(text: str) -> str:
    """Return text with every digit of what looks like a government number masked.

    Examples
    --------
    >>> masked("id 000-12-3456 of the card")
    'id •••-••-•••• of the card'
    """
    if _FIGURE.match(text):
        return text
    return _NUMBER.sub(lambda found: re.sub(r"\d", MASK, found[0]), text)


def masked_everywhere(value: object) -> object:
    """Return texts, lists and mappings with every such number masked.

    Parameters
    ----------
    value : object
        Plain texts, lists and mappings.
    """
    if isinstance(value, str):
        return masked(value)
    if isinstance(value, Mapping):
        return {key: masked_everywhere(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [masked_everywhere(inner) for inner in value]
    return value


def refuse_number(text: str, *, where: str) -> str:
    """Return an id or a mark, or refuse one that looks like a government number.

    Raises
    ------
    PaperNumberRefused
        The refusal shows the text masked, so that no log holds it either.
    """
    hidden = masked(text)
    if hidden == text:
        return text
    raise PaperNumberRefused(
        "what looks like (part of) a government number",
        got=hidden,
        where=where,
        expected="a number of the record or an id of this programme",
        do="Leave the number out; mask it on the scan too.",
    )
