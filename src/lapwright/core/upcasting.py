"""Lift the bodies of older acts to the shape that is read today.

Bytes are never touched: an act keeps its digest, and only what the fold sees is
lifted. A step takes a body of one version to the next and adds what the later
shape asks for; a fact that the older act does not hold stays unknown (empty
text, an empty list or mapping), so that a rule that needs it answers that it is
missing. Keys that a step does not know are kept.

Every released version has golden files in ``tests/records/acts`` that must load
and fold for ever. A new version adds one step here, one golden file there, and
a line in `lapwright.core.acts.SINCE`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from .acts import ACT_TYPES, Act

Body = Mapping[str, Any]
Step = Callable[[Body], dict[str, Any]]


def _method_checked_1(body: Body) -> dict[str, Any]:
    """Add the figures, the signer and the readings, none of which the first version held."""
    return {"figures": {}, "by": "", "readings_sha256": ""} | dict(body)


def _record_1(body: Body) -> dict[str, Any]:
    """Part ``TLH-01-QP7K-r2`` into number and revision; the first version wrote them as one."""
    number, found, revision = str(body.get("record", "")).rpartition("-r")
    named = {"record": number, "revision": revision} if found else {"revision": ""}
    return dict(body) | named


def _record_issued_1(body: Body) -> dict[str, Any]:
    """Part number and revision; register, person and case were not held."""
    return {"register": "", "person": "", "case": ""} | _record_1(body)


# (type, version) -> the step to the version after it
STEPS: dict[tuple[str, int], Step] = {
    ("MethodChecked", 1): _method_checked_1,
    ("RecordIssued", 1): _record_issued_1,
    ("RecordSigned", 1): _record_1,
}


def newest(act: Act) -> Act:
    """Return an act with its body in the newest shape; itself where it is in that already.

    Parameters
    ----------
    act : Act
        An act of any version.

    Examples
    --------
    >>> from datetime import UTC, date, datetime
    >>> body = {"method": "face-trace/1", "faces": "40", "limits": {}}
    >>> at = datetime(2026, 1, 5, tzinfo=UTC)
    >>> old = Act("MethodChecked", body, date(2026, 1, 5), "lead", at, version=1)
    >>> newest(old).version, newest(old).body["figures"]
    (2, {})
    """
    body = lifted_body(act.type, act.version, body=act.body)
    return act if body is act.body else act.lifted(body, ACT_TYPES[act.type][0])


def lifted_body(type_: str, version: int, *, body: Body) -> Body:
    """Return a body in the newest shape of its type.

    Parameters
    ----------
    type_ : str
        Type of the act.
    version : int
        Version of the body's shape.
    body : mapping
        The body.
    """
    for number in range(version, ACT_TYPES[type_][0]):
        body = STEPS[type_, number](body)
    return body
