"""Every version of one act: who wrote what, when, why, and what of it counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC
from typing import Any, Protocol

from .acts import Act
from .errors import NamedActUnknown
from .standing import CHANGES, Resolved, resolve, targets_of


class Written(Protocol):
    """An entry of a log: its number and its act."""

    @property
    def seq(self) -> int:
        """Number of the entry, from 0."""

    @property
    def act(self) -> Act:
        """The act that it holds."""


def history_of(entries: Iterable[Written], sha256: str) -> dict[str, Any]:
    """Return all that was ever written of one act, oldest first.

    Parameters
    ----------
    entries : iterable of Written
        The stream of the act, or more, oldest first.
    sha256 : str
        Name of the act: the digest of the bytes first written. The digest of one of its
        corrections or voids gives the history of that one.

    Returns
    -------
    dict
        ``act``, ``type``, ``stream``, ``now`` (``stands``, ``corrected`` or ``voided``) and
        ``versions``, a list of mappings of texts: ``entry`` (number in the log), ``act`` (its
        own digest), ``kind`` (``filed``, ``corrected``, ``voided``), ``names`` (the digest of
        what it changes), ``by`` and ``recorded_by``, ``recorded_at``, ``happened_on``,
        ``reason``, ``body`` (what it says holds; empty for a void), ``files``, and ``counts``
        (``counts``, ``replaced`` or ``voided``).

    Raises
    ------
    NamedActUnknown
        If no entry holds it.
    """
    kept = list(entries)
    acts = [e.act for e in kept]
    changes = [n for n, act in enumerate(acts) if act.type in CHANGES]
    targets, said = targets_of(acts, changes), resolve(acts)
    family = [n for n, act in enumerate(acts) if act.sha256 == sha256]
    if not family:
        raise NamedActUnknown(
            "no entry holds this act",
            got=sha256,
            expected="the digest of an act's bytes",
            do="Copy the digest from the entry's page.",
        )
    for n in changes:
        if n not in family and set(targets[n]) & set(family):
            family.append(n)
    first = acts[family[0]]
    return {
        "act": sha256,
        "type": first.type,
        "stream": first.stream,
        "now": _now(family, acts, said, name=sha256),
        "versions": [
            _version(kept[n].seq, acts[n], _counts(n, acts, targets, said)) for n in sorted(family)
        ],
    }


def _now(family: Iterable[int], acts: list[Act], said: Resolved, *, name: str) -> str:
    left = [n for n in family if acts[n].sha256 == name and n not in said.voids]
    if not left:
        return "voided"
    return "corrected" if any(n in said.fixes for n in left) else "stands"


def _counts(n: int, acts: list[Act], targets: Mapping[int, list[int]], said: Resolved) -> str:
    """Return whether what an entry says holds today."""
    if n in said.voids:
        return "voided"
    later = said.fixes.get(n)
    if acts[n].type == "ActCorrected":
        # a corrected correction counts with other words than its own
        counting = [said.fixes.get(t) for t in targets[n] if t not in said.voids]
        return "counts" if later is None and acts[n] in counting else "replaced"
    return "replaced" if later is not None else "counts"


def _version(seq: int, act: Act, counts: str) -> dict[str, Any]:
    key = CHANGES.get(act.type, "")
    body = act.body
    if act.type == "ActCorrected":
        body = act.body["body"]
    elif act.type == "ActVoided":
        body = {}
    return {
        "entry": str(seq),
        "act": act.sha256,
        "kind": {"corrects": "corrected", "voids": "voided"}.get(key, "filed"),
        "names": act.body.get(key, ""),
        "by": act.body.get("by", act.recorded_by),
        "recorded_by": act.recorded_by,
        "recorded_at": act.recorded_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "happened_on": act.happened_on.isoformat(),
        "reason": act.body.get("reason", "") if key else "",
        "body": body,
        "files": list(act.files),
        "counts": counts,
    }
