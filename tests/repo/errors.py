"""Refusals against their documentation."""

from __future__ import annotations

import ast
import importlib
import re
from collections import Counter
from collections.abc import Iterable, Mapping

from lapwright.core.errors import LapwrightError
from repo.tree import ROOT, Module, all_files, source_modules

PAGES = "docs/reference/errors/"
_CODE = re.compile(r"^[A-Z]{3,10}-\d{3}$")
_HEADING = re.compile(r"^## ([A-Z]+-\d+)\b", re.MULTILINE)


def error_classes() -> tuple[type[LapwrightError], ...]:
    """Return every refusal defined in an ``errors.py`` of the package."""
    found: list[type[LapwrightError]] = []
    for module in source_modules():
        if module.path.endswith("/errors.py"):
            name = module.path.removeprefix("src/").removesuffix(".py").replace("/", ".")
            found += [
                value
                for value in vars(importlib.import_module(name)).values()
                if isinstance(value, type)
                and issubclass(value, LapwrightError)
                and value is not LapwrightError
                and value.__module__ == name
            ]
    return tuple(found)


def documented_codes() -> dict[str, str]:
    """Return the codes that have an entry, each with its page."""
    pages = [path for path in all_files() if path.startswith(PAGES) and path.endswith(".md")]
    return {
        code: page
        for page in pages
        for code in _HEADING.findall((ROOT / page).read_text(encoding="utf-8"))
    }


def code_offenders(classes: Iterable[type[LapwrightError]]) -> list[str]:
    """Return refusals without a code of their own, in another form, or with a taken one."""
    kept = list(classes)
    counted = Counter(kind.code for kind in kept)
    offenders = [
        f"{kind.__name__}: no code of its own" for kind in kept if "code" not in vars(kind)
    ]
    offenders += [
        f"{kind.__name__}: {kind.code!r} is not PREFIX-000"
        for kind in kept
        if not _CODE.match(kind.code)
    ]
    return offenders + [
        f"{kind.__name__}: {kind.code} is taken twice" for kind in kept if counted[kind.code] > 1
    ]


def entry_offenders(
    classes: Iterable[type[LapwrightError]], documented: Mapping[str, str]
) -> list[str]:
    """Return codes without an entry, and entries without a refusal."""
    codes = {kind.code: kind.__name__ for kind in classes}
    missing = [
        f"{name}: {code} has no entry" for code, name in codes.items() if code not in documented
    ]
    dead = [
        f"{page}: {code} is no refusal" for code, page in documented.items() if code not in codes
    ]
    return missing + dead


def misplaced_errors(modules: Iterable[Module], names: set[str]) -> list[str]:
    """Return refusals that are defined outside an ``errors.py``."""
    return [
        f"{module.path}:{node.lineno} {node.name}"
        for module in modules
        if not module.path.endswith("/errors.py")
        for node in ast.walk(module.tree)
        if isinstance(node, ast.ClassDef)
        and any(ast.unparse(base).rsplit(".", 1)[-1] in names for base in node.bases)
    ]
