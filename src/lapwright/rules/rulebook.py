"""Dated rules: one YAML file each, grouped by code and edition.

``data/<code>/<edition>/<rule id>.yaml`` holds dated values, each with its own
citation. An edition may inherit from an older one; what it does not override
is carried over, and because nobody has read the carried figure in the newer
edition its basis becomes ``memory`` unless ``edition.yaml`` says otherwise,
and its citation says from which edition it was carried.
Files are loaded by `load_edition`; a record carries its rule rows with it and
`rulebook_from_rows` makes the same rulebook from them again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

from lapwright.core.citations import Basis, Citation
from lapwright.core.times import parse_date

from .errors import EditionUnknown, RuleFileRefused, RuleUnknown
from .rulefiles import (
    KINDS,
    OPERATORS,
    Rule,
    canonical,
    edition_head,
    parse_rule,
    source_title,
    sources,
)

__all__ = [
    "KINDS",
    "OPERATORS",
    "Adopted",
    "Confirmation",
    "Edition",
    "Rule",
    "canonical",
    "library",
    "load_edition",
    "parse_rule",
    "rulebook_from_rows",
    "rules_digest",
    "source_title",
    "sources",
]
_CARRIED = " (carried from the "


@dataclass(frozen=True)
class Edition:
    """One edition of one code: its names and its dated rules."""

    code: str
    edition: str
    title: str
    published: date
    source: str
    rules: Mapping[str, tuple[Rule, ...]]

    def rule(self, rule_id: str, *, on: date) -> Rule | None:
        """Return the rule as of ``on``; an addendum after ``on`` does not count.

        An edition may be used before its first dated value (a contract can name
        it early); the earliest value then stands.
        """
        dated = self.rules.get(rule_id)
        if not dated:
            return None
        known = [r for r in dated if r.since <= on]
        return known[-1] if known else dated[0]


@dataclass(frozen=True)
class Confirmation:
    """A person compared one figure with their own copy (act ``RuleConfirmed``)."""

    code: str
    edition: str
    rule: str
    figure: str
    by: str
    on: date


@dataclass(frozen=True)
class Adopted:
    """The editions a basis adopts, with its confirmations, as of one day.

    Order matters for display only: base standard first, then the code that
    modifies it.
    """

    editions: tuple[Edition, ...]
    on: date
    confirmations: tuple[Confirmation, ...] = ()
    used: set[str] = field(default_factory=set, compare=False, repr=False)
    _asked: dict[str, tuple[Rule, ...]] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )
    _cited: dict[tuple[str, ...], tuple[Citation, ...]] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )

    def all(self, rule_id: str) -> tuple[Rule, ...]:
        """Return the rule of that id in every adopted edition that has it."""
        known = self._asked.get(rule_id)
        if known is None:
            found = [e.rule(rule_id, on=self.on) for e in self.editions]
            known = tuple(self._confirmed(r) for r in found if r is not None)
            self.used.update(r.key for r in known)
            self._asked[rule_id] = known
        return known

    def cites(self, rule_id: str, also: tuple[str, ...] = ()) -> tuple[Citation, ...]:
        """Return the citations of a rule and of those an answer leans on, each once.

        A further rule whose text nobody has read supports nothing and is left out:
        no confirmation could ever settle an answer that cited it.
        """
        key = (rule_id, *also)
        known = self._cited.get(key)
        if known is None:
            leaned = [r for i in also for r in self.all(i) if r.value is not None]
            known = tuple(dict.fromkeys(r.cite for r in (*self.all(rule_id), *leaned)))
            self._cited[key] = known
        return known

    def first(self, rule_id: str) -> Rule:
        """Return the rule of that id from the first adopted edition that has it.

        Raises
        ------
        RuleUnknown
            If no adopted edition has it.
        """
        rules = self.all(rule_id)
        if not rules:
            names = ", ".join(f"{e.code} {e.edition}" for e in self.editions)
            raise RuleUnknown(
                "no adopted edition has this rule",
                got=rule_id,
                expected=f"a rule of {names or 'an adopted edition'}",
                do="Adopt an edition that states it, or drop the question.",
            )
        return rules[0]

    def has(self, rule_id: str) -> int:
        """Return how many adopted editions state the rule."""
        return sum(1 for e in self.editions if rule_id in e.rules)

    def rows_used(self) -> list[dict[str, Any]]:
        """Return the rows of every rule asked for so far, for the record's attachment."""
        return [
            r.as_row()
            for e in self.editions
            for dated in e.rules.values()
            for r in dated
            if r.key in self.used
        ]

    def _confirmed(self, rule: Rule) -> Rule:
        for c in self.confirmations:
            same = (c.code, c.edition, c.rule) == (rule.code, rule.edition, rule.id)
            if same and c.figure == rule.figure and c.on <= self.on:
                return replace(rule, cite=replace(rule.cite, confirmed_by=c.by))
        return rule


def library() -> dict[str, tuple[str, ...]]:
    """Return every code of the rule library with its editions, oldest first."""
    root = files("lapwright.rules") / "data"
    return {
        code.name: tuple(sorted(e.name for e in code.iterdir() if e.is_dir()))
        for code in sorted(root.iterdir(), key=lambda p: p.name)
        if code.is_dir()
    }


@cache
def load_edition(code: str, edition: str) -> Edition:
    """Load one edition with what it inherits.

    Raises
    ------
    EditionUnknown
        For a code or edition the library does not hold.
    RuleFileRefused
        For a file that does not fit the form.
    """
    known = library()
    if edition not in known.get(code, ()):
        choices = "; ".join(f"{c}: {', '.join(e)}" for c, e in known.items())
        raise EditionUnknown(
            "no such code and edition in the rule library",
            got=f"{code} {edition}",
            expected=choices,
            do="Name one of these, or add the edition's rule files.",
        )
    folder = files("lapwright.rules") / "data" / code / edition
    head = edition_head(folder, code, edition)
    rules: dict[str, tuple[Rule, ...]] = {}
    if head.get("inherits"):
        parent = load_edition(code, head["inherits"])
        rules.update(
            {i: _carried(dated, head, parent.edition) for i, dated in parent.rules.items()}
        )
    for entry in sorted(folder.iterdir(), key=lambda p: p.name):
        if entry.name.endswith(".yaml") and entry.name != "edition.yaml":
            dated = parse_rule(
                entry.read_text("utf-8"),
                code,
                edition=edition,
                where=f"{code}/{edition}/{entry.name}",
            )
            rules[dated[0].id] = dated
    for gone in head.get("withdraws", []):
        rules.pop(gone, None)
    return Edition(
        code, edition, head["title"], parse_date(head["published"]), head["source"], rules
    )


def rulebook_from_rows(rows: Iterable[Mapping[str, Any]]) -> tuple[Edition, ...]:
    """Make editions again from the rows that a record carries.

    Raises
    ------
    RuleFileRefused
        If a row lacks a field.
    """
    grouped: dict[tuple[str, str], dict[str, list[Rule]]] = {}
    for row in rows:
        rule = _rule_of_row(row)
        grouped.setdefault((rule.code, rule.edition), {}).setdefault(rule.id, []).append(rule)
    return tuple(
        Edition(
            code,
            edition,
            "",
            date.min,
            "",
            {i: tuple(sorted(r, key=lambda x: x.since)) for i, r in rules.items()},
        )
        for (code, edition), rules in grouped.items()
    )


def rules_digest(rules: Sequence[Mapping[str, Any]]) -> str:
    """Return the SHA-256 of rule rows, independent of their order."""
    lines = sorted(canonical(r) for r in rules)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def _rule_of_row(row: Mapping[str, Any]) -> Rule:
    try:
        cite = row["cite"]
        return Rule(
            id=row["id"],
            title=row["title"],
            unit=row["unit"],
            kind=row["kind"],
            operator=row["operator"],
            code=row["code"],
            edition=row["edition"],
            since=parse_date(row["since"]),
            value=row["value"],
            unread=row["unread"],
            sure=row.get("sure", ""),
            notes=row.get("notes", ""),
            deciding=row.get("deciding", ""),
            cite=Citation(cite["source"], cite["where"], Basis(cite["basis"]), cite["title"]),
        )
    except (KeyError, ValueError, TypeError) as fault:
        raise RuleFileRefused(
            "a rule row lacks a field",
            got=str(fault),
            expected="the fields that Rule.as_row writes",
            do="Take the rule rows from an untouched record.",
        ) from fault


def _carried(dated: tuple[Rule, ...], head: Mapping[str, Any], parent: str) -> tuple[Rule, ...]:
    basis = Basis(head.get("carried_basis", "memory"))
    return tuple(
        replace(r, edition=head["edition"], cite=_carried_cite(r.cite, head, basis, parent))
        for r in dated
    )


def _carried_cite(cite: Citation, head: Mapping[str, Any], basis: Basis, parent: str) -> Citation:
    # A house rule or a figure of another source is as well known as before; a figure of the
    # older edition was not read in the newer one.
    if cite.basis in (Basis.PROGRAMME, Basis.COMMON_PRACTICE) or cite.source not in _own(head):
        return cite
    where = cite.where
    if _CARRIED not in where:
        where = f"{where}{_CARRIED}{parent} edition)".strip()
    return replace(
        cite, source=head["source"], title=source_title(head["source"]), where=where, basis=basis
    )


def _own(head: Mapping[str, Any]) -> frozenset[str]:
    """Return the source ids that are editions of the same code."""
    prefix = head["source"].removesuffix(head["edition"])
    return frozenset(s for s in sources() if s.startswith(prefix))
