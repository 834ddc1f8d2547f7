"""Docstrings against the code they describe."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator

from repo.sizes import FunctionNode, signature_parameters
from repo.tree import Module

_SECTION = re.compile(r"^-{3,}\s*$")
_ENTRY = re.compile(r"^(\*{0,2}\w+(?:\s*,\s*\*{0,2}\w+)*)\s*(?::.*)?$")
Node = FunctionNode | ast.ClassDef


def documented_parameters(docstring: str) -> list[str] | None:
    """Return the names of the Parameters section in order, or None without one."""
    lines = docstring.splitlines()
    starts = [n for n in range(1, len(lines)) if _SECTION.match(lines[n].strip())]
    start = next((n for n in starts if lines[n - 1].strip() == "Parameters"), None)
    if start is None:
        return None
    end = next((n - 1 for n in starts if n > start), len(lines))
    names: list[str] = []
    for line in lines[start + 1 : end]:
        match = _ENTRY.match(line)
        if match:
            names += [name.strip().lstrip("*") for name in match[1].split(",")]
    return names


def _made_later(statement: ast.AnnAssign) -> bool:
    text = ast.unparse(statement)
    return "ClassVar" in text or "init=False" in text


def class_parameters(node: ast.ClassDef) -> list[str]:
    """Return what a class is made with: its ``__init__``, else its annotated fields."""
    for statement in node.body:
        if isinstance(statement, ast.FunctionDef) and statement.name == "__init__":
            return signature_parameters(statement)
    return [
        statement.target.id
        for statement in node.body
        if isinstance(statement, ast.AnnAssign)
        and isinstance(statement.target, ast.Name)
        and not _made_later(statement)
    ]


def _public(body: Iterable[ast.stmt], owner: str = "") -> Iterator[tuple[str, Node]]:
    for node in body:
        if not isinstance(node, Node) or node.name.startswith("_"):
            continue
        yield f"{owner}{node.name}", node
        if isinstance(node, ast.ClassDef):
            yield from _public(node.body, f"{owner}{node.name}.")


def _overrides(node: Node) -> bool:
    marks = {ast.unparse(mark).rsplit(".", 1)[-1] for mark in node.decorator_list}
    return bool(marks & {"overload", "override", "setter"})


def _offences(node: Node) -> Iterator[str]:
    docstring = ast.get_docstring(node)
    if docstring is None:
        yield "has no docstring"
        return
    named = documented_parameters(docstring)
    if named is None:
        return
    is_class = isinstance(node, ast.ClassDef)
    real = class_parameters(node) if is_class else signature_parameters(node)
    if missing := [name for name in real if name not in named]:
        yield f"does not document {missing}"
    if unknown := [name for name in named if name not in real]:
        yield f"documents {unknown}, which it does not take"
    # Fields with defaults must come last in a dataclass: its text may keep the order of meaning.
    if not is_class and sorted(named) == sorted(real) and named != real:
        yield f"documents {named} in another order than it takes {real}"


def docstring_offenders(modules: Iterable[Module]) -> list[str]:
    """Return public functions, classes and methods that are undocumented or misdocumented."""
    return [
        f"{module.path}:{node.lineno} {name}: {offence}"
        for module in modules
        for name, node in _public(module.tree.body)
        if not _overrides(node)
        for offence in _offences(node)
    ]
