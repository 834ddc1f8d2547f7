"""Whether two texts name the same firm or person, however they were typed."""

from __future__ import annotations

import unicodedata


def folded(name: str) -> str:
    """Return a name as it is compared: NFC, case folded, runs of spaces as one.

    Parameters
    ----------
    name : str
        As somebody typed it.

    Notes
    -----
    Case folding and normal form are those of the Unicode Standard, sections 3.13 and 3.11.

    Examples
    --------
    >>> folded("  Otterby   PIPE ")
    'otterby pipe'
    """
    once = unicodedata.normalize("NFC", name).casefold()
    return " ".join(unicodedata.normalize("NFC", once).split())


def same_name(one: str, two: str) -> object:
    """Return something true where two names differ in spelling of case and spaces at most."""
    return folded(one) == folded(two)
