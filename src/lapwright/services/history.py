"""What a new revision says of the one before it: which record it replaces, and what left the case.

A reading or a look that was filed stays in the case; a new one is filed beside
it. Where one was filed wrongly, ``written.reason`` says why it left, and the new
revision prints the entry with that reason. Figures that the program computes,
acceptance and remarks may change without an entry leaving.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from hashlib import sha256
from typing import Any

from lapwright.core.acts import Act, canonical_json
from lapwright.core.evidence import FOUND_ALONE

from .casefolder import LoadedCase
from .errors import EntriesGone
from .text import word

Data = Mapping[str, Any]
LOOKS = ("BoreExamined", "CouponExamined", "FaceRead", "SpecimenTested")
_TYPED = (
    "face",
    "reader",
    "way",
    "overlap",
    "resolution",
    "instrument",
    "typed",
    "after_calibration",
)
_SEEN = ("face", "reader", "way", "tube_end", "cup_face", "after_calibration")


def must_say_why(case: LoadedCase, gone: Iterable[Act]) -> None:
    """Refuse a case that readings or looks have left without a reason.

    Parameters
    ----------
    case : LoadedCase
        The case as it is now.
    gone : iterable of Act
        Filed entries that the case no longer states in the same words.

    Raises
    ------
    EntriesGone
        If no reason stands under ``written.reason``.
    """
    now = {_key(_plain(a)) for a in case.acts}
    looks = [p for a in gone if a.type in LOOKS and _key(p := _plain(a)) not in now]
    if looks and not case.document["written"].get("reason"):
        raise EntriesGone(
            "entries that the ledger holds are no longer in the case",
            got="; ".join(_told(looks)),
            where=case.id,
            expected="every reading and look that was filed, with new ones beside them",
            do="Put them back; if one was filed wrongly, say why under 'written.reason'.",
        )


def only_computed_anew(act: Act, held: Iterable[Act]) -> object:
    """Return whether a reading states what a held one states, with figures computed otherwise.

    Parameters
    ----------
    act : Act
        An entry of the folder.
    held : iterable of Act
        Readings that stand.
    """
    own = _key(_plain(act))
    return act.type == "FaceRead" and any(_key(_plain(a)) == own for a in held)


def replaces(kept: Data, acts: list[Data], voids: Mapping[str, Act]) -> dict[str, Any]:
    """Return what the next revision says of the latest one.

    Parameters
    ----------
    kept : mapping
        Complete data of the latest revision.
    acts : list of mapping
        The acts of the case as they stand now, as plain JSON.
    voids : mapping
        SHA-256 of a voided act to the act that voided it.

    Returns
    -------
    dict
        ``revision``, ``gone`` (a sentence for each entry that left or was
        changed) and ``reasons``, each with ``by`` and ``reason``.
    """
    now = {_key(a) for a in acts}
    gone = [a for a in kept["acts"] if _key(a) not in now]
    said = [voids[d] for a in gone if (d := sha256(canonical_json(a)).hexdigest()) in voids]
    reasons = dict.fromkeys((v.body["by"], v.body["reason"]) for v in said)
    return {
        "revision": kept["revision"],
        "gone": list(_told(gone, acts)),
        "reasons": [{"by": by, "reason": reason} for by, reason in reasons],
    }


def _plain(act: Act) -> dict[str, Any]:
    plain: dict[str, Any] = json.loads(act.to_bytes())
    return plain


def _key(act: Data) -> bytes:
    """Return what makes an entry the same one, whatever was computed from it or written later."""
    body = act["body"]
    if act["type"] == "FaceRead":
        fields: tuple[str, ...] = _TYPED if body["way"] == "loupe" else _SEEN
        if body.get("ends") == FOUND_ALONE:
            fields = _SEEN[:3]  # where the program looked follows from the photograph
        body = {name: body[name] for name in fields if name in body}
    else:
        body = {k: v for k, v in body.items() if k not in ("remark", "accepted_by")}
    parts = (act["type"], body, act["happened_on"], act.get("files", []))
    return canonical_json(parts)


def _told(gone: Iterable[Data], now: Sequence[Data] = ()) -> Iterator[str]:
    """Yield a sentence for each entry that left, with what changed where another took its place."""
    for act in gone:
        body = act["body"]
        about = (body[k] for k in ("face", "joint", "coupon", "person", "rule") if k in body)
        subject, who = next(about, ""), body.get("reader", body.get("by", ""))
        share = body.get("share", "")
        if share:
            share = word("gone.share", percent=f"{float(share) * 100:.1f} %")
        kind = re.sub(r"(?<=[a-z])[A-Z]", lambda m: f" {m[0].lower()}", act["type"])
        told = word("gone.entry", type=kind, subject=subject, who=who)
        told = f"{' '.join(told.split())}, {act['happened_on']}{share}"
        changes = "" if share else _changes(act, now)
        yield word("gone.changed", told=told, changes=changes) if changes else told


def _changes(old: Data, now: Sequence[Data]) -> str:
    """Return what the entry that took another's place says otherwise; empty where none did."""
    own = {_key(old)}
    new = [a for a in now if _place(a) == _place(old) and _key(a) not in own]
    if len(new) != 1:
        return ""
    before, after = dict(_texts(_stated(old))), dict(_texts(_stated(new[0])))
    keys = [k for k in {**before, **after} if before.get(k) != after.get(k)]
    nothing = word("gone.nothing")
    told = [
        word(
            "gone.was",
            key=k.replace(".", " ").replace("_", " "),
            before=before.get(k, nothing),
            now=after.get(k, nothing),
        )
        for k in keys[:_SHOWN]
    ]
    left = len(keys) - _SHOWN
    return ", ".join([*told, *([word("gone.more", count=str(left))] if left > 0 else [])])


_SHOWN = 4  # of an entry that changed in more, the rest is in the attached data


def _place(act: Data) -> tuple[str, ...]:
    """Return what an entry is about: its type, and the coupon, joint, face or person."""
    about = ("coupon", "joint", "face", "stage", "instrument", "person", "rule", "reader")
    return (act["type"], *(str(act["body"].get(k, "")) for k in about))


def _stated(act: Data) -> Data:
    return {**act["body"], "day": act["happened_on"], "files": act.get("files", [])}


def _texts(value: Any, key: str = "") -> Iterator[tuple[str, str]]:
    """Yield dotted keys with their texts; the items of a list count from 1."""
    if isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _texts(inner, f"{key}.{name}" if key else name)
    elif isinstance(value, list):
        for number, inner in enumerate(value, start=1):
            yield from _texts(inner, f"{key} {number}")
    else:
        yield key, str(value)
