"""Check a loaded document against its published JSON schema, one clear line per refusal."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import Any

from .errors import CaseKeyRefused

OTHER = "the form that the case folder's reference page shows"


@cache
def schema(name: str) -> dict[str, Any]:
    """Return a published schema: ``case``, ``booklet`` or ``method-check``."""
    text = (files("lapwright.services") / "schemas" / f"{name}.schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def check(document: object, name: str, *, where: str) -> dict[str, Any]:
    """Return the document when it fits the schema.

    Raises
    ------
    CaseKeyRefused
        Naming file, key, value and what is expected; the first misfit in the
        order of the document.
    """
    from jsonschema import Draft202012Validator

    errors = list(Draft202012Validator(schema(name)).iter_errors(document))
    if errors:
        raise _line(min(errors, key=_first), where)
    assert isinstance(document, dict)
    return document


def _first(error: Any) -> tuple[object, ...]:
    """Sort a document of another schema before its keys, and what lacks a key last."""
    path = _path(error)
    return (path != "schema", len(error.absolute_path) == 0, path)


def _line(error: Any, where: str) -> CaseKeyRefused:
    place = f"{where}: {_path(error) or 'top level'}"
    spec: Mapping[str, Any] = error.schema
    if error.validator == "additionalProperties":
        allowed = sorted(spec["properties"])
        unknown = sorted(set(error.instance) - set(allowed))
        return CaseKeyRefused(
            "unknown key",
            got=", ".join(unknown),
            where=place,
            expected="one of " + ", ".join(allowed),
            do="Remove the key, or correct its spelling.",
        )
    if error.validator == "required":
        missing = [k for k in error.validator_value if k not in error.instance]
        return CaseKeyRefused(
            "missing key",
            got=", ".join(sorted(error.instance)) or "nothing",
            expected=", ".join(missing),
            where=place,
            do=f"Add '{missing[0]}' and indent it like its neighbours.",
        )
    return CaseKeyRefused(
        "a value that does not fit",
        got=_shown(error.instance),
        where=place,
        expected=_expected(spec, error),
        do="Correct the value.",
    )


def _expected(spec: Mapping[str, Any], error: Any) -> str:
    if "x-expected" in spec:
        return str(spec["x-expected"])
    if error.validator == "enum":
        return "one of " + ", ".join(spec["enum"])
    if error.validator == "const":
        return str(spec["const"])
    if error.validator == "type":
        kinds = {
            "object": "indented 'key: value' lines",
            "array": "a list, one '- ' item a line",
            "string": "one line of text",
        }
        return kinds.get(str(error.validator_value), str(error.validator_value))
    if error.validator in ("anyOf", "oneOf"):
        return ", or ".join(_form(branch) for branch in spec[error.validator])
    if error.validator in ("minItems", "minProperties"):
        return f"at least {error.validator_value}"
    return OTHER


def _form(branch: Mapping[str, Any]) -> str:
    """Return one of several forms in words: what a value is, or the keys of its lines."""
    if "x-expected" in branch:
        return str(branch["x-expected"])
    if "properties" in branch:
        return "the keys " + " and ".join(branch["properties"])
    return OTHER


def _path(error: Any) -> str:
    return dotted(error.absolute_path)


def dotted(path: Sequence[str | int]) -> str:
    """Return a document path as text, such as ``coupons[0].joints[1].overlap``."""
    text = ""
    for step in path:
        text += f"[{step}]" if isinstance(step, int) else f".{step}"
    return text.lstrip(".")


def _shown(value: object) -> str:
    if isinstance(value, str):
        return f"'{value}'"
    if isinstance(value, Mapping):
        return "keys " + ", ".join(sorted(value))
    return f"a list of {len(value)}" if isinstance(value, list) else repr(value)
