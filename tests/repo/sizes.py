"""How long files, functions and paths may be, and who may read the clock."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator

from repo.tree import Module

FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef


def long_files(modules: Iterable[Module], *, limit: int) -> list[str]:
    """Return the files of more than ``limit`` lines."""
    counted = ((module.path, len(module.text.splitlines())) for module in modules)
    return [f"{path}: {lines} lines" for path, lines in counted if lines > limit]


def body_lines(node: FunctionNode) -> int:
    """Return the lines of a function's body without its docstring."""
    body = node.body[1:] if ast.get_docstring(node) is not None else node.body
    if not body:
        return 0
    return (body[-1].end_lineno or body[-1].lineno) - body[0].lineno + 1


def long_functions(modules: Iterable[Module], *, limit: int) -> list[str]:
    """Return the functions whose body has ``limit`` lines or more."""
    return [
        f"{module.path}:{node.lineno} {node.name}: {body_lines(node)} lines"
        for module in modules
        for node in ast.walk(module.tree)
        if isinstance(node, FunctionNode) and body_lines(node) >= limit
    ]


def signature_parameters(node: FunctionNode) -> list[str]:
    """Return the parameter names of a function without self and cls."""
    found = node.args
    names = [arg.arg for arg in (*found.posonlyargs, *found.args)]
    if names and names[0] in {"self", "cls"}:
        names = names[1:]
    names += [found.vararg.arg] if found.vararg else []
    names += [arg.arg for arg in found.kwonlyargs]
    return names + ([found.kwarg.arg] if found.kwarg else [])


def many_parameters(modules: Iterable[Module], *, limit: int) -> list[str]:
    """Return the functions that take more than ``limit`` parameters, self left out."""
    return [
        f"{module.path}:{node.lineno} {node.name}: {len(names)} parameters"
        for module in modules
        for node in ast.walk(module.tree)
        if isinstance(node, FunctionNode) and len(names := signature_parameters(node)) > limit
    ]


def long_paths(paths: Iterable[str], *, limit: int) -> list[str]:
    """Return the paths of more than ``limit`` characters."""
    return [f"{path}: {len(path)} characters" for path in paths if len(path) > limit]


_CLOCK = {
    "datetime": {"now", "today", "utcnow"},
    "date": {"today"},
    "time": {"time", "time_ns", "localtime", "gmtime"},
}


def _clock_reads(tree: ast.Module) -> Iterator[tuple[int, str]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            owner = ast.unparse(node.value).rsplit(".", 1)[-1]
            if node.attr in _CLOCK.get(owner, set()):
                yield node.lineno, f"{owner}.{node.attr}"
        elif isinstance(node, ast.ImportFrom) and node.module == "time":
            for alias in node.names:
                if alias.name in _CLOCK["time"]:
                    yield node.lineno, f"from time import {alias.name}"


def clock_reads(modules: Iterable[Module]) -> list[str]:
    """Return every reading of the clock."""
    return [
        f"{module.path}:{line} {what}"
        for module in modules
        for line, what in _clock_reads(module.tree)
    ]
