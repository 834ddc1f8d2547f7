"""Read the cases, run a check, and compare every expected key with the answer."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

from lapwright.core.outcomes import Finding, Verdict
from lapwright.core.quantities import Quantity
from lapwright.core.times import parse_date
from lapwright.reference.strictyaml import load_yaml
from lapwright.rules.rulebook import Adopted

from .adopting import DAY, adopted

HERE = Path(__file__).parent
KEYS = {"id", "says", "check", "adopted", "confirmed", "on", "given", "expect", "within", "doubt"}
NEEDED = {"id", "says", "check", "adopted", "expect"}
Answer = Finding | Verdict | Mapping[str, Any]
Check = Callable[[Adopted, Mapping[str, Any]], Answer]


@dataclass(frozen=True)
class Case:
    """One vector: what is given, what must come out, and our doubt if we answer otherwise."""

    id: str
    area: str
    says: str
    check: str
    adopted: tuple[str, ...]
    expect: Mapping[str, Any]
    given: Mapping[str, Any]
    confirmed: Any = "all"
    on: date = DAY
    within: Mapping[str, str] | None = None
    doubt: str = ""


def cases() -> list[Case]:
    """Return every case of ``vectors/<area>.yaml``, in the order of the files."""
    files = sorted(HERE.glob("vectors/*.yaml"))
    return [case for path in files if not path.stem.startswith("index") for case in _cases(path)]


def indexed() -> list[str]:
    """Return every vector id of the ``vectors/index*.yaml`` files."""
    return [i for path in sorted(HERE.glob("vectors/index*.yaml")) for i in _yaml(path)]


def checks() -> dict[str, Check]:
    """Return the checks of all areas by name; a name used twice is refused."""
    found: dict[str, Check] = {}
    for path in sorted(HERE.glob("checks/*.py")):
        if path.stem == "__init__":
            continue
        module = importlib.import_module(f".checks.{path.stem}", __package__)
        twice = found.keys() & module.CHECKS.keys()
        if twice:
            raise ValueError(f"{path.name}: check names used before: {sorted(twice)}")
        found.update(module.CHECKS)
    return found


def run(case: Case, check: Check, confirmed: Any = None) -> Answer:
    """Run the case's check under its editions."""
    in_force = adopted(case.adopted, case.confirmed if confirmed is None else confirmed, on=case.on)
    return check(in_force, case.given)


def differences(case: Case, answer: Answer) -> list[str]:
    """Say for every expected key that is not answered so what was answered."""
    return [
        f"{key}: expected {want!r}, got {got!r}"
        for key, want in case.expect.items()
        if not _same(got := _answered(answer, key), want, (case.within or {}).get(key))
    ]


def findings_of(answer: object) -> Iterator[Finding]:
    """Yield every finding in an answer, whatever holds it."""
    if isinstance(answer, Finding):
        yield answer
    elif isinstance(answer, Verdict):
        yield from answer.findings
    elif isinstance(answer, Mapping):
        for part in answer.values():
            yield from findings_of(part)
    elif isinstance(answer, list | tuple):
        for part in answer:
            yield from findings_of(part)


def _cases(path: Path) -> Iterator[Case]:
    for raw in _yaml(path):
        wrong = sorted(set(raw) - KEYS) + sorted(NEEDED - set(raw))
        if wrong:
            raise ValueError(f"{path.name}: {raw.get('id')}: unknown or missing keys {wrong}")
        yield Case(
            id=raw["id"],
            area=path.stem,
            says=raw["says"],
            check=raw["check"],
            adopted=tuple(raw["adopted"]),
            expect=raw["expect"],
            given=raw.get("given") or {},
            confirmed=raw.get("confirmed", "all"),
            within=raw.get("within"),
            on=parse_date(raw["on"]) if raw.get("on") else DAY,
            doubt=raw.get("doubt") or "",
        )


def _yaml(path: Path) -> list[Any]:
    raw = load_yaml(path.read_text("utf-8"), where=path.name)
    if not isinstance(raw, list):
        raise ValueError(f"{path.name}: a list is wanted")
    return raw


_MISSING = object()


def _answered(answer: Answer, key: str) -> object:
    """Look a key up: a figure of a mapping, then an attribute, then a message parameter."""
    if isinstance(answer, Mapping):
        if key in answer or "finding" not in answer:
            return answer.get(key, _MISSING)
        return _answered(answer["finding"], key)
    if key == "messages":
        return sorted({f.message.id for f in findings_of(answer)})
    if key == "message" and isinstance(answer, Verdict):
        return _deciding(answer)
    if key == "message":
        return answer.message.id
    if hasattr(answer, key):
        return getattr(answer, key)
    return (
        dict(answer.message.params).get(key, _MISSING) if isinstance(answer, Finding) else _MISSING
    )


def _deciding(verdict: Verdict) -> str:
    """Message id of the first finding whose outcome is the verdict's own."""
    return next(f.message.id for f in verdict.findings if f.outcome is verdict.outcome)


def _plain(value: object) -> object:
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(_plain(k)): _plain(v) for k, v in value.items()}
    if isinstance(value, set | frozenset):
        return sorted(str(_plain(v)) for v in value)
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, Finding | Verdict):
        return value.outcome.value
    return "" if value is None else value


def _same(got: object, want: object, within: str | None) -> object:
    got, want = _plain(got), _plain(want)
    if isinstance(got, list | dict) or isinstance(want, list | dict):
        return got == want or _texts(got) == _texts(want)
    one, two = _number(got), _number(want)
    if one is None or two is None:
        return str(got) == str(want)
    return abs(one - two) <= Fraction(within or 0)


def _texts(value: object) -> object:
    if isinstance(value, dict):
        return {k: _texts(v) for k, v in value.items()}
    return [_texts(v) for v in value] if isinstance(value, list) else str(value)


def _number(value: object) -> Fraction | None:
    try:
        return Fraction(Decimal(str(value))) if not isinstance(value, Fraction) else value
    except (InvalidOperation, ValueError, OverflowError):
        return None
