"""An old copy of a case folder must not silently take back what was corrected since.

A folder that states what the case stated before a correction is either an old copy, or a
correction taken back. Both look the same, so a reason is asked for, and one that was not
given for an earlier change: an old copy may hold that one too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from hashlib import sha256
from itertools import pairwise

from lapwright.core.acts import Act

from .casefolder import LoadedCase
from .casestream import FROM_FOLDER, CaseStream
from .errors import FolderStale
from .history import only_computed_anew

Identity = Callable[[Act], bytes]


def must_be_meant(
    case: LoadedCase, held: CaseStream, added: Iterable[Act], identity: Identity
) -> None:
    """Refuse a folder that goes back behind a correction without a reason of its own.

    Parameters
    ----------
    case : LoadedCase
        The case as the folder states it; it differs from what stands.
    held : CaseStream
        What the ledger holds of it.
    added : iterable of Act
        What the folder would add.
    identity : callable
        What makes an entry the same one.

    Raises
    ------
    FolderStale
    """
    back = _taken_back(held, list(added), identity)
    if not back and _sum(map(identity, case.acts)) not in _earlier(held.every, identity):
        return
    used = {v.body["reason"] for v in held.voids.values()}
    reason = case.document["written"].get("reason")
    if not reason or reason in used:
        raise FolderStale(
            "the folder states again what was corrected since"
            + (f" ({', '.join(sorted({a.type for a in back}))})" if back else ""),
            where=case.id,
            got=f"written.reason {reason!r}, given before" if reason else "no 'written.reason'",
            expected="the latest folder of this case",
            do="File the latest folder; if the correction was wrong, say why under "
            "'written.reason', in words that were not used before.",
        )


def _taken_back(held: CaseStream, added: list[Act], identity: Identity) -> list[Act]:
    """Return what the folder adds that stood once and was voided, unless a figure was computed."""
    voided = {identity(a): a for a in held.every if a.sha256 in held.voids}
    found = [(a, voided[key]) for a in added if (key := identity(a)) in voided]
    now = [a for a in held.standing if a.type == "FaceRead"]
    return [a for a, _ in found if not only_computed_anew(a, now)]


def _earlier(every: Iterable[Act], identity: Identity) -> set[int]:
    """Return the sums of what the case stated at the end of each earlier filing."""
    acts = [a for a in every if a.type in FROM_FOLDER or a.type == "ActVoided"]
    kept = {a.sha256: _number(identity(a)) for a in acts if a.type != "ActVoided"}
    found, now = set(), 0
    for act, following in pairwise(acts):
        # what comes back within one second has the bytes of the voided one
        now += -kept.get(act.body["voids"], 0) if act.type == "ActVoided" else kept[act.sha256]
        if _begins(act, following):
            found.add(now)
    return found


def _begins(act: Act, following: Act) -> object:
    """Return whether another filing begins behind an act: later, or with voids."""
    void = following.type == "ActVoided" and act.type != "ActVoided"
    return void or act.recorded_at != following.recorded_at


def _sum(keys: Iterator[bytes]) -> int:
    return sum(map(_number, keys))


def _number(key: bytes) -> int:
    return int.from_bytes(sha256(key).digest())
