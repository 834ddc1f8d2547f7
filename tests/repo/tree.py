"""The files of this repository as the checks see them."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SRC = ROOT / "src" / "lapwright"
MADE = {".git", ".venv", "_build", "build", "dist", "node_modules", "lapwright-demo"}
PYTHON_PLACES = ("src", "tests", "scripts", "benchmarks", "docs")


@dataclass(frozen=True)
class Module:
    """One Python file: its path from the root, its text, its syntax tree."""

    path: str
    text: str

    @property
    def tree(self) -> ast.Module:
        return ast.parse(self.text)


def _made_by_a_tool(part: str) -> bool:
    return part in MADE or part.endswith((".egg-info", "_cache", "__pycache__"))


def _below(folder: Path) -> Iterator[Path]:
    for path in sorted(folder.iterdir()):
        if _made_by_a_tool(path.name) or path.name == ".hypothesis":
            continue
        if path.is_dir():
            yield from _below(path)
        else:
            yield path


@cache
def all_files() -> tuple[str, ...]:
    """Return every path of the tree from the root, without what tools have made."""
    return tuple(path.relative_to(ROOT).as_posix() for path in _below(ROOT))


def read(path: str) -> str | None:
    """Return the text of a file, or None when it is not text."""
    try:
        return (ROOT / path).read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return None


@cache
def python_files() -> tuple[Module, ...]:
    """Return every Python file of the project."""
    places = tuple(f"{place}/" for place in PYTHON_PLACES)
    return tuple(
        Module(path, (ROOT / path).read_text(encoding="utf-8"))
        for path in all_files()
        if path.endswith(".py") and path.startswith(places)
    )


def modules_of(*packages: str) -> tuple[Module, ...]:
    """Return the Python files of some packages of lapwright."""
    starts = tuple(f"src/lapwright/{name}/" for name in packages)
    return tuple(module for module in python_files() if module.path.startswith(starts))


def source_modules() -> tuple[Module, ...]:
    """Return the Python files of the package itself."""
    return tuple(module for module in python_files() if module.path.startswith("src/"))


def told(offenders: Iterable[str], rule: str) -> str:
    """Return one message that states the rule and lists every offender."""
    return rule + "\n" + "\n".join(f"  {offender}" for offender in offenders)
