"""The rule library as rows: a list, one rule in full, and the booklet to tick.

Pure functions behind ``lapwright rules list | show | sources | booklet``. The
booklet holds the rules that decide on the main street, figures first and then
choices, lists and demands, which have wording but no figure. A named person
compares each with their own copy, and each tick comes back as a
`lapwright.rules.rulebook.Confirmation` that repeats the figure.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from lapwright.core.citations import Citation
from lapwright.core.messages import Message

from .errors import RuleUnknown
from .rulebook import Edition, Rule, load_edition

_WORDS = {
    "<=": "booklet.at_most",
    "<": "booklet.below",
    ">=": "booklet.at_least",
    ">": "booklet.above",
    "==": "booklet.exactly",
    "in": "booklet.one_of",
}
_UNITLESS = ("", "-")
_SHARE = re.compile(r"0\.\d+")
_SLUG = re.compile(r"(?<![\w-])[a-z]+(?:[-_][a-z0-9]+)+(?![\w-])")
_SIGNS = {"x": "×", "F": "°F"}
_CODES = {
    "asme-bpvc-ix": "ASME BPVC IX",
    "aws-b2.2": "AWS B2.2",
    "nfpa-99": "NFPA 99",
    "htm-02-01": "HTM 02-01",
}


@dataclass(frozen=True)
class RuleRow:
    """One line of the rule list: what stands now, with its latest dated value."""

    key: str
    title: str
    kind: str
    figure: str
    unit: str
    citation: Citation
    sure: str

    def as_dict(self) -> dict[str, str]:
        """Return the row as plain text fields for JSON and tables."""
        return {
            "rule": self.key,
            "title": self.title,
            "kind": self.kind,
            "figure": self.figure,
            "unit": self.unit,
            "cite": str(self.citation),
            "basis": self.citation.basis.value,
            "sure": self.sure,
        }


@dataclass(frozen=True)
class BookletEntry:
    """One line of the booklet.

    ``label`` names the figure shortly, ``words`` says it in plain words,
    ``figure`` is the exact text that a tick repeats, ``part`` is ``figure`` or
    ``wording``, ``citation`` where to look it up and how it is known so far.
    """

    number: int
    part: str
    label: str
    title: str
    words: Message
    figure: str
    unit: str
    citation: Citation
    sure: str
    key: str

    def as_dict(self) -> dict[str, Any]:
        """Return the entry as plain JSON."""
        return {
            "number": str(self.number),
            "part": self.part,
            "label": self.label,
            "title": self.title,
            "words": self.words.as_dict(),
            "figure": self.figure,
            "unit": self.unit,
            "cite": str(self.citation),
            "basis": self.citation.basis.value,
            "sure": self.sure,
            "rule": self.key,
        }


def list_rules(editions: Sequence[Edition]) -> tuple[RuleRow, ...]:
    """Return a row for the latest dated value of every rule of the editions, by id.

    Parameters
    ----------
    editions : sequence of Edition
        Loaded editions, in the order to show.
    """
    return tuple(
        _row(dated[-1]) for edition in editions for _, dated in sorted(edition.rules.items())
    )


def show_rule(code: str, edition: str, rule_id: str) -> tuple[dict[str, Any], ...]:
    """Return every dated value of one rule, oldest first, as plain JSON rows.

    Raises
    ------
    EditionUnknown
        For a code or edition that the library does not hold.
    RuleUnknown
        For an id that this edition does not state.
    """
    held = load_edition(code, edition)
    dated = held.rules.get(rule_id)
    if not dated:
        topic = rule_id.split(".")[0]
        near = [i for i in sorted(held.rules) if i.split(".")[0] == topic] or sorted(
            {i.split(".")[0] + ".…" for i in held.rules}
        )
        raise RuleUnknown(
            "no such rule in this edition",
            got=rule_id,
            where=f"{code} {edition}",
            expected=", ".join(near),
            do="List the rules of this edition first.",
        )
    return tuple({**rule.as_row(), "key": rule.key, "figure": rule.figure} for rule in dated)


def booklet(editions: Sequence[Edition], *, also: Collection[str] = ()) -> tuple[BookletEntry, ...]:
    """Return the deciding rules of the editions: figures first, then wordings.

    Parameters
    ----------
    editions : sequence of Edition
        The editions a basis adopts.
    also : collection of str, optional
        Keys ``code/edition/id`` of further rules that a decision leans on.
    """
    rules = [
        d[-1]
        for e in editions
        for _, d in sorted(e.rules.items())
        if d[-1].deciding or d[-1].key in also
    ]
    ordered = sorted(rules, key=lambda r: _part(r) == "wording")
    return tuple(_entry(number, rule) for number, rule in enumerate(ordered, start=1))


def in_words(rule: Rule) -> Message:
    """Return the rule's value as a message in plain words.

    Examples
    --------
    >>> from lapwright.rules.rulebook import load_edition
    >>> in_words(load_edition("nfpa-99", "2012").rules["cleaning.max_hours"][0])
    Message(id='booklet.at_most', params=(('figure', '8 h'),))
    """
    if rule.value is None:
        return Message("booklet.unread", reason=rule.unread)
    if rule.kind == "demand":
        return Message("booklet.demand", title=rule.title)
    return Message(_WORDS.get(rule.operator, "booklet.plain"), figure=_figure(rule))


def _figure(rule: Rule) -> str:
    """Return the value as it stands on paper: a share in per cent, words without hyphens."""
    if isinstance(rule.value, str) and rule.unit in _UNITLESS and _SHARE.fullmatch(rule.value):
        return f"{(Decimal(rule.value) * 100).normalize():f} % ({rule.value} as a share)"
    text = _spoken("; ".join(_parts(rule.value)))
    bare = isinstance(rule.value, str) and " " not in text and rule.unit not in _UNITLESS
    unit = rule.unit.removesuffix("s") if text == "1" else rule.unit
    return f"{text} {_SIGNS.get(unit, unit)}" if bare else text


def _spoken(text: str) -> str:
    """Write ids and words joined by hyphens as they are said; ``BCuP-5`` stays."""
    for code, name in _CODES.items():
        text = text.replace(code, name)
    return _SLUG.sub(lambda found: re.sub(r"[-_]", " ", found[0]), text).replace("<=", "≤")


def _parts(value: object) -> Iterator[str]:
    """Flatten a value to short texts: ``D: D, B`` for a table row, ``K, L`` for a list."""
    if isinstance(value, dict):
        rows = [(key, _inner(item)) for key, item in value.items() if item]
        yield from (said if key.isdigit() else f"{key}: {said}" for key, said in rows)
    elif isinstance(value, list) and all(isinstance(item, str) for item in value):
        yield ", ".join(value)
    elif isinstance(value, list):
        yield from (_band(item) for item in value)
    else:
        yield str(value)


def _inner(value: object) -> str:
    if isinstance(value, dict):
        return ": ".join(str(item) for item in value.values())
    return ", ".join(value) if isinstance(value, list) else str(value)


def _band(band: Mapping[str, str]) -> str:
    """Say one thickness band: ``T < 0.125 in: 0.5 T to 2 T``."""
    top = f"T {band['up_to_operator']} {band['up_to']}" if band.get("up_to") else "T above"
    low = band.get("low") or f"{band['low_factor']} T"
    return f"{top}: {low} to {band['high_factor']} T, {band['specimens']} specimens"


def _row(rule: Rule) -> RuleRow:
    return RuleRow(rule.key, rule.title, rule.kind, rule.figure, rule.unit, rule.cite, rule.sure)


def _part(rule: Rule) -> str:
    return "wording" if rule.kind in ("demand", "choice", "list") else "figure"


def _entry(number: int, rule: Rule) -> BookletEntry:
    return BookletEntry(
        number,
        _part(rule),
        rule.deciding or rule.title,
        rule.title,
        in_words(rule),
        rule.figure,
        rule.unit,
        rule.cite,
        rule.sure,
        rule.key,
    )
