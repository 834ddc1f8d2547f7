"""Characters that cannot stand on a record, told by field.

The shipped fonts show Latin (with Vietnamese), Greek and Cyrillic letters.
Other scripts, control characters and invisible marks are refused: a name that
prints as boxes, or that hides or turns around letters, is no evidence.
"""

from __future__ import annotations

import dataclasses
import re
import unicodedata
from collections.abc import Iterator, Mapping

from .errors import GlyphMissing

SCRIPTS = "Latin (with Vietnamese), Greek or Cyrillic letters, digits and common signs"
_NOT_SHOWN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
_ESCAPE = re.compile(r"\\u\{([0-9a-fA-F]+)\}")


def texts_of(value: object, where: str = "sheet") -> Iterator[tuple[str, str]]:
    """Yield every text of a sheet with the path of its field, ``sheet.person.name``."""
    if isinstance(value, str):
        yield where, value
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for f in dataclasses.fields(value):
            if f.name != "svg":
                yield from texts_of(getattr(value, f.name), f"{where}.{f.name}")
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield from texts_of(item, f"{where}[{key}]")
    elif isinstance(value, tuple | list):
        for i, item in enumerate(value):
            yield from texts_of(item, f"{where}[{i}]")


def check_characters(sheet: object) -> None:
    """Refuse control characters, line breaks and invisible marks in any field.

    Raises
    ------
    GlyphMissing
        Names the field and the character.
    """
    for where, text in texts_of(sheet):
        for char in text:
            if unicodedata.category(char) in _NOT_SHOWN:
                raise _refusal(where, char)


def check_printable(text: str, where: str) -> None:
    """Refuse a text that no record could print, before anything is judged.

    Raises
    ------
    GlyphMissing
        Names the place and the first character that the fonts do not show.
    """
    from .fontmap import shown_codes

    for char in text:
        if unicodedata.category(char) in _NOT_SHOWN or ord(char) not in shown_codes():
            raise _refusal(where, char)


def refuse_glyph(sheet: object, refusal: str) -> None:
    """Raise `GlyphMissing` if the typesetter's refusal is about a character of the sheet.

    Returns quietly when the refusal is about something else.
    """
    if not any(word in refusal for word in ("could not be displayed", "codepoint", "glyph")):
        return
    named = {chr(int(code, 16)) for code in _ESCAPE.findall(refusal)} | set(refusal)
    for where, text in texts_of(sheet):
        for char in text:
            if ord(char) > 0x7E and char in named:
                raise _refusal(where, char)


def _refusal(where: str, char: str) -> GlyphMissing:
    name = unicodedata.name(char, "no name")
    shown = f"U+{ord(char):04X} {name}" + (f" ({char})" if char.isprintable() else "")
    return GlyphMissing(
        "a character that the record cannot print",
        got=shown,
        where=where,
        expected=SCRIPTS,
        do="Write the text with such letters; keep the other spelling on file.",
    )
