"""The directive ``rule-catalogue``: every rule of every edition, straight from its file.

The files are read with all scalars as text, so that a figure on the page is the figure in
the file, digit for digit.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import yaml
from docutils import nodes
from docutils.nodes import Node
from sphinx.application import Sphinx
from sphinx.util.docutils import SphinxDirective

DATA = Path(__file__).resolve().parents[2] / "src" / "lapwright" / "rules" / "data"
COLUMNS = ("Rule", "From", "Value", "Where", "How known")


def _shown(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(map(_shown, value))
    if isinstance(value, dict):
        return "; ".join(f"{key}: {_shown(part)}" for key, part in value.items())
    return str(value)


def _figure(dated: dict[str, Any], unit: str, operator: str) -> str:
    if "value" not in dated:
        return "unread"
    value = _shown(dated["value"])
    tail = "" if unit in {"-", ""} or value.endswith(unit) else f" {unit}"
    return f"{operator} {value}{tail}".strip()


def _rows(path: Path) -> Iterator[tuple[str, ...]]:
    rule = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    unit = rule.get("unit", "-")
    for dated in rule.get("values", ()):
        cite = dated.get("cite", {})
        value = _figure(dated, unit, rule.get("operator", ""))
        yield (
            f"{rule['title']} ({rule['id']})",
            _shown(dated.get("from", "")),
            value,
            f"{cite.get('source', '')}, {cite.get('where', '')}",
            _shown(cite.get("basis", "")),
        )


def _row(cells: tuple[str, ...]) -> nodes.row:
    row = nodes.row()
    for cell in cells:
        row += nodes.entry("", nodes.paragraph(text=cell))
    return row


def _table(rows: list[tuple[str, ...]]) -> nodes.table:
    group = nodes.tgroup(cols=len(COLUMNS))
    group += [nodes.colspec(colwidth=width) for width in (30, 10, 20, 25, 10)]
    group += nodes.thead("", _row(COLUMNS))
    group += nodes.tbody("", *map(_row, rows))
    return nodes.table("", group)


class RuleCatalogue(SphinxDirective):
    """One table for each edition that has files."""

    def run(self) -> list[Node]:
        """Return the sections."""
        found: list[Node] = []
        for edition in sorted(path for path in DATA.glob("*/*") if path.is_dir()):
            files = sorted(p for p in edition.rglob("*.yaml") if p.name != "edition.yaml")
            for path in files:
                self.env.note_dependency(str(path))
            rows = [row for path in files for row in _rows(path)]
            if rows:
                name = f"{edition.parent.name} {edition.name}"
                section = nodes.section("", nodes.title(text=name), _table(rows))
                section["ids"] = [nodes.make_id(f"edition-{name}")]
                found.append(section)
        return found or [nodes.paragraph(text="No rule files are in this tree.")]


def setup(app: Sphinx) -> dict[str, Any]:
    """Register the directive."""
    app.add_directive("rule-catalogue", RuleCatalogue)
    return {"version": "1", "parallel_read_safe": True}
