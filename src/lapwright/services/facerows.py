"""What a face shows beside its share, as a few labelled rows for a terminal.

Figures come first, then the places that a person must look at, then in one row what
was looked for and not seen, and in one what was not measured, with the reasons.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .text import word

FIGURES = ("sound", "clearance", "axis", "fillet")
LABELS = (*FIGURES, "look", "nothing", "unknown")


@dataclass(frozen=True)
class Row:
    """One thing told: its label (of `LABELS`), its text and, if not measured, the reason."""

    label: str
    text: str
    why: str = ""


def told(rows: Iterable[Row]) -> list[str]:
    """Return rows as aligned lines, those of what was not seen and not measured each in one.

    Parameters
    ----------
    rows : iterable of Row
        In any order.
    """
    found = list(rows)
    lines = [(r.label, r.text) for name in (*FIGURES, "look") for r in found if r.label == name]
    unseen = [r.text for r in found if r.label == "nothing"]
    if unseen:
        lines.append(("nothing", word("facerows.clears", what="; ".join(unseen))))
    unknown = _by_reason([r for r in found if r.label == "unknown"])
    if unknown:
        lines.append(("unknown", unknown))
    wide = max(len(word(f"facerows.{name}")) for name in LABELS)
    return [f"{word(f'facerows.{name}'):<{wide}}  {text}" for name, text in lines]


def _by_reason(rows: Sequence[Row]) -> str:
    reasons = dict.fromkeys(r.why for r in rows)
    parts = {why: ", ".join(r.text for r in rows if r.why == why) for why in reasons}
    return "; ".join(f"{what} ({why})" for why, what in parts.items())
