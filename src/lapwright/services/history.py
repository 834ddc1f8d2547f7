"""What a new revision says of the one before it: which record it replaces, and what left the case.

A reading or a look that was filed stays in the case; a new one is filed beside
it. Where one was filed wrongly, ``written.reason`` says why it left, and the new
revision prints the entry with that reason. Figures that the program computes,
acceptance and remarks may change without an entry leaving.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
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
        "gone": list(_told(gone)),
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


def _told(acts: Iterable[Data]) -> Iterator[str]:
    for act in acts:
        body = act["body"]
        about = (body[k] for k in ("face", "joint", "coupon", "person", "rule") if k in body)
        subject, who = next(about, ""), body.get("reader", body.get("by", ""))
        share = body.get("share", "")
        if share:
            share = word("gone.share", percent=f"{float(share) * 100:.1f} %")
        kind = re.sub(r"(?<=[a-z])[A-Z]", lambda m: f" {m[0].lower()}", act["type"])
        told = word("gone.entry", type=kind, subject=subject, who=who)
        yield f"{' '.join(told.split())}, {act['happened_on']}{share}"
