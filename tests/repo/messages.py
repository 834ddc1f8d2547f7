"""Message ids in the code against the catalogue of sentences."""

from __future__ import annotations

import ast
import re
import string
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import polib

from repo.tree import ROOT, Module, all_files, read

CATALOGUE = "src/lapwright/locale/en/"
_ID_START = re.compile(r"^[a-z_]+\.[a-z_.-]*$")


@dataclass(frozen=True)
class Use:
    """One ``Message(...)`` in the code; ``params`` is None when they are not literal."""

    place: str
    pattern: str
    literal: bool
    params: frozenset[str] | None


def placeholders(sentence: str) -> frozenset[str]:
    """Return the names in braces of a sentence."""
    fields = (name for _, name, _, _ in string.Formatter().parse(sentence) if name is not None)
    return frozenset(re.split(r"[.\[]", name)[0] for name in fields)


def catalogue() -> tuple[dict[str, frozenset[str]], list[str]]:
    """Return id -> parameters of the English sentences, and what is wrong with them."""
    found: dict[str, frozenset[str]] = {}
    offenders: list[str] = []
    for path in all_files():
        if not (path.startswith(CATALOGUE) and path.endswith(".po")):
            continue
        for entry in polib.pofile(str(ROOT / path)):
            place = f"{path}: {entry.msgid}"
            if entry.msgid in found:
                offenders.append(f"{place} is there twice")
            if not entry.msgstr.strip():
                offenders.append(f"{place} has no sentence")
            try:
                found[entry.msgid] = placeholders(entry.msgstr)
            except ValueError as error:
                offenders.append(f"{place}: {error}")
    return found, offenders


def _patterns(node: ast.expr) -> Iterator[tuple[str, bool]]:
    """Yield the ids an expression can give: (text, True) or (pattern, False)."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value, True
    elif isinstance(node, ast.IfExp):
        yield from _patterns(node.body)
        yield from _patterns(node.orelse)
    elif isinstance(node, ast.JoinedStr):
        yield _as_pattern(node), False


def _as_pattern(node: ast.JoinedStr) -> str:
    return "".join(
        re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".+"
        for part in node.values
    )


def _makes_message(module: Module, call: ast.Call) -> bool:
    # ``word`` is how command line and services ask for a fixed wording.
    name = ast.unparse(call.func).rsplit(".", 1)[-1]
    asks = module.path.startswith(("src/lapwright/cli/", "src/lapwright/services/"))
    return name == "Message" or (name == "word" and asks)


def message_uses(modules: Iterable[Module]) -> Iterator[Use]:
    """Yield every ``Message(...)`` whose id is a string, an f-string or a choice of them."""
    for module in modules:
        for node in ast.walk(module.tree):
            if not (isinstance(node, ast.Call) and node.args and _makes_message(module, node)):
                continue
            names = [word.arg for word in node.keywords if word.arg != "language"]
            params = None if None in names else frozenset(name for name in names if name)
            for pattern, literal in _patterns(node.args[0]):
                yield Use(f"{module.path}:{node.lineno}", pattern, literal, params)


def use_offenders(uses: Iterable[Use], sentences: Mapping[str, frozenset[str]]) -> list[str]:
    """Return messages without a sentence, or with other parameters than the sentence."""
    offenders: list[str] = []
    for use in uses:
        if not use.literal:
            if not any(re.fullmatch(use.pattern, known) for known in sentences):
                offenders.append(f"{use.place}: no sentence fits {use.pattern}")
        elif use.pattern not in sentences:
            offenders.append(f"{use.place}: {use.pattern} has no sentence")
        elif use.params is not None and use.params != sentences[use.pattern]:
            given, wanted = sorted(use.params), sorted(sentences[use.pattern])
            offenders.append(f"{use.place}: {use.pattern} gives {given}, sentence has {wanted}")
    return offenders


def _strings(modules: Iterable[Module]) -> Iterator[str]:
    for module in modules:
        for node in ast.walk(module.tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield node.value


def _data_words() -> Iterator[str]:
    for path in all_files():
        if path.startswith("src/lapwright/") and path.endswith((".yaml", ".csv", ".typ", ".json")):
            yield from re.findall(r"[\w.-]+", read(path) or "")


def _families(modules: Iterable[Module]) -> Iterator[str]:
    """Yield the patterns of f-strings that begin like an id: ``f"record.{name}"``."""
    for module in modules:
        for node in ast.walk(module.tree):
            if isinstance(node, ast.JoinedStr) and node.values:
                first = node.values[0]
                if isinstance(first, ast.Constant) and _ID_START.match(str(first.value)):
                    yield _as_pattern(node)


def unused_ids(sentences: Iterable[str], modules: Iterable[Module]) -> list[str]:
    """Return ids that no string of the code, no data file and no f-string names."""
    kept = tuple(modules)
    named = {*_strings(kept), *_data_words()}
    families = [re.compile(pattern) for pattern in sorted(set(_families(kept)))]
    return [
        known
        for known in sentences
        if known not in named and not any(family.fullmatch(known) for family in families)
    ]
