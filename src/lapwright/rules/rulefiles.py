"""Reading rule files, edition files and the source list; whatever does not fit is refused.

The published form of a rule file is the keys ``id title unit kind operator
values notes deciding``; each dated value holds ``from``, exactly one of
``value`` and ``unread``, and a ``cite`` with ``source where basis sure
read_on``. All scalars are text; limits are numbers with their unit.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

from lapwright.core.citations import Basis, Citation
from lapwright.core.times import parse_date
from lapwright.reference.strictyaml import load_yaml

from .errors import RuleFileRefused

_RULE_KEYS = {"id", "title", "unit", "kind", "operator", "values", "notes", "deciding"}
_VALUE_KEYS = {"from", "value", "unread", "cite"}
_CITE_KEYS = {"source", "where", "basis", "sure", "read_on"}
_HEAD_KEYS = {
    "code",
    "edition",
    "title",
    "published",
    "source",
    "inherits",
    "carried_basis",
    "withdraws",
    "notes",
}
BASES = tuple(b.value for b in Basis)
_NUMERIC = ("upper_limit", "lower_limit", "count", "factor")
_NUMBER = re.compile(r"^\d+(\.\d+)?(/\d+)?( \S+)?$")
OPERATORS = ("", "<=", "<", ">=", ">", "==", "in")
KINDS = ("upper_limit", "lower_limit", "count", "choice", "list", "table", "demand", "factor")


@dataclass(frozen=True)
class Rule:
    """One rule of one edition as it stood on one day.

    ``value`` is text, a list or a mapping of text; ``None`` means that no text
    of the rule is known (`unread` says why), and the rule answers so.
    """

    id: str
    title: str
    unit: str
    kind: str
    operator: str
    code: str
    edition: str
    since: date
    value: Any
    unread: str
    cite: Citation
    sure: str = ""
    notes: str = ""
    deciding: str = ""

    @property
    def figure(self) -> str:
        """The value as one line of text, the form that a confirmation repeats."""
        if self.value is None:
            return "unread"
        return self.value if isinstance(self.value, str) else canonical(self.value)

    @property
    def key(self) -> str:
        """``code/edition/id``, unique in the library."""
        return f"{self.code}/{self.edition}/{self.id}"

    def as_row(self) -> dict[str, Any]:
        """Return the rule as plain JSON, enough to judge with it again."""
        return {
            "id": self.id,
            "title": self.title,
            "unit": self.unit,
            "kind": self.kind,
            "operator": self.operator,
            "code": self.code,
            "edition": self.edition,
            "since": self.since.isoformat(),
            "value": self.value,
            "unread": self.unread,
            "sure": self.sure,
            "notes": self.notes,
            "deciding": self.deciding,
            "cite": {
                "source": self.cite.source,
                "where": self.cite.where,
                "basis": self.cite.basis.value,
                "title": self.cite.title,
            },
        }


def canonical(value: object) -> str:
    """Return compact JSON with sorted keys."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def edition_head(folder: Traversable, code: str, edition: str) -> dict[str, Any]:
    """Read ``edition.yaml`` of one edition folder.

    Raises
    ------
    RuleFileRefused
        For a missing or unknown key, another edition's name, an unknown basis or source.
    """
    where = f"{code}/{edition}/edition.yaml"
    head = _mapping(load_yaml((folder / "edition.yaml").read_text("utf-8"), where=where), where)
    _only(head, _HEAD_KEYS, where)
    _needed(head, ("code", "edition", "title", "published", "source"), where)
    if (head["code"], head["edition"]) != (code, edition):
        raise RuleFileRefused(
            "the edition file names another edition",
            where=where,
            got=f"{head['code']} {head['edition']}",
            expected=f"{code} {edition}",
            do="Correct code and edition.",
        )
    if head.get("carried_basis", "memory") not in BASES:
        raise RuleFileRefused(
            "no such basis",
            where=where,
            got=head["carried_basis"],
            expected=", ".join(BASES),
            do="Correct carried_basis.",
        )
    if not isinstance(head.get("withdraws", []), list):
        raise RuleFileRefused(
            "'withdraws' is not a list",
            where=where,
            got=head["withdraws"],
            expected="rule ids",
            do="Write it like [topic.rule].",
        )
    source_title(head["source"])
    return head


def parse_rule(text: str, code: str, *, edition: str, where: str) -> tuple[Rule, ...]:
    """Read the text of one rule file; the dated values come oldest first.

    Parameters
    ----------
    text : str
        The YAML text.
    code, edition : str
        Code and edition that the file belongs to.
    where : str
        Name of the file; its last part is the rule id and ``.yaml``.

    Raises
    ------
    RuleFileRefused
        For a missing or unknown key, an id that is not the file name, a kind,
        operator, basis or source that is not known, a value that is neither
        known nor unread, or a limit that is not a number.
    """
    raw = _mapping(load_yaml(text, where=where), where)
    _only(raw, _RULE_KEYS, where)
    _needed(raw, ("id", "title", "kind", "values"), where)
    if where.rsplit("/", 1)[-1] != f"{raw['id']}.yaml" or raw["kind"] not in KINDS:
        raise RuleFileRefused(
            "id or kind does not fit",
            got=f"{raw['id']}, {raw['kind']}",
            where=where,
            expected=f"the file name, and one of {', '.join(KINDS)}",
            do="Correct the id or the kind.",
        )
    if raw.get("operator", "") not in OPERATORS:
        raise RuleFileRefused(
            "no such operator",
            got=raw["operator"],
            where=where,
            expected=" ".join(o for o in OPERATORS if o),
            do="Write the operator, or leave the key out.",
        )
    if not isinstance(raw["values"], list):
        raise RuleFileRefused(
            "'values' is not a list",
            got=raw["values"],
            where=where,
            expected="dated values",
            do="Start each dated value with '- from:'.",
        )
    rules = [_dated(raw, value, code, edition, where) for value in raw["values"]]
    return tuple(sorted(rules, key=lambda r: r.since))


def _dated(
    raw: Mapping[str, Any], value: Mapping[str, Any], code: str, edition: str, where: str
) -> Rule:
    _only(_mapping(value, where), _VALUE_KEYS, where)
    _needed(value, ("from", "cite"), where)
    if ("value" in value) == ("unread" in value):
        raise RuleFileRefused(
            "a dated value is either known or unread",
            got=sorted(value),
            where=where,
            expected="exactly one of 'value' and 'unread'",
            do="State the figure, or say why no text of it is known.",
        )
    _numeric(raw, value.get("value"), where)
    return Rule(
        id=raw["id"],
        title=raw["title"],
        unit=raw.get("unit", "-"),
        kind=raw["kind"],
        operator=raw.get("operator", ""),
        code=code,
        edition=edition,
        since=parse_date(value["from"], where=where),
        value=value.get("value"),
        unread=value.get("unread", ""),
        sure=_cite_sure(value, where),
        notes=raw.get("notes", ""),
        deciding=raw.get("deciding", ""),
        cite=_citation(value["cite"], where),
    )


def _citation(raw: object, where: str) -> Citation:
    cite = _mapping(raw, where)
    _only(cite, _CITE_KEYS, where)
    _needed(cite, ("source", "where", "basis"), where)
    if cite["basis"] not in BASES:
        raise RuleFileRefused(
            "no such basis",
            got=cite["basis"],
            where=where,
            expected=", ".join(BASES),
            do="Say how the figure is known.",
        )
    return Citation(
        cite["source"], cite["where"], Basis(cite["basis"]), source_title(cite["source"])
    )


def _cite_sure(value: Mapping[str, Any], where: str) -> str:
    sure = _mapping(value["cite"], where).get("sure", "")
    if sure not in ("", "H", "M", "L"):
        raise RuleFileRefused(
            "no such degree of sureness",
            got=sure,
            where=where,
            expected="H, M or L",
            do="Write H, M or L, or leave it out.",
        )
    return str(sure)


def _numeric(raw: Mapping[str, Any], value: object, where: str) -> None:
    if raw["kind"] not in _NUMERIC or value is None:
        return
    if not (isinstance(value, str) and _NUMBER.match(value)):
        raise RuleFileRefused(
            f"a {raw['kind']} whose value is not a number",
            got=value,
            where=where,
            expected="a number, with its unit where it has one",
            do="Write it like '0.20', '3 in' or '6 months'.",
        )


@cache
def _sources() -> dict[str, dict[str, str]]:
    text = (files("lapwright.rules") / "data" / "sources.yaml").read_text("utf-8")
    raw = _mapping(load_yaml(text, where="rules/data/sources.yaml"), "rules/data/sources.yaml")
    return {key: dict(row) for key, row in raw.items()}


def sources() -> dict[str, dict[str, str]]:
    """Return the source list: id -> title, edition, kind, readers."""
    return {key: dict(row) for key, row in _sources().items()}


def source_title(source: str) -> str:
    """Return the printed title of a source id.

    Raises
    ------
    RuleFileRefused
        If the source list does not have it.
    """
    row = _sources().get(source)
    if row is None:
        raise RuleFileRefused(
            "a source that the source list does not have",
            got=source,
            expected=", ".join(sorted(_sources())),
            do="Add it to rules/data/sources.yaml.",
        )
    return row["title"]


def _mapping(value: object, where: str) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise RuleFileRefused(
            "not a mapping",
            got=value,
            expected="keys and values",
            where=where,
            do="Write 'key: value' lines.",
        )
    return value


def _needed(raw: Mapping[str, Any], keys: Iterable[str], where: str) -> None:
    for key in keys:
        if not raw.get(key):
            raise RuleFileRefused(
                f"key '{key}' is missing",
                got=sorted(raw),
                where=where,
                expected=f"the key '{key}'",
                do="Add it.",
            )


def _only(raw: Mapping[str, Any], allowed: set[str], where: str) -> None:
    unknown = sorted(set(raw) - allowed)
    if unknown:
        raise RuleFileRefused(
            "unknown key",
            got=", ".join(unknown),
            where=where,
            expected=", ".join(sorted(allowed)),
            do="Remove or rename it.",
        )
