"""What an act is about: the people, records, instruments and procedures that its body names.

A store keeps an index of these, so that everything about one brazer is found
among a million acts. The index is computed from the acts and can be made anew.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from .acts import Act

# key of a body -> kind of the thing that its text names
_KINDS = {
    "person": "person",
    "brazer": "person",
    "by": "person",
    "reader": "person",
    "accepted_by": "person",
    "ends_accepted_by": "person",
    "supervisor": "person",
    "typed_by": "person",
    "checked_by": "person",
    "representative": "person",
    "record": "record",
    "paper": "record",
    "instrument": "instrument",
    "overlap_instrument": "instrument",
    "analyser": "instrument",
    "procedure": "procedure",
    "name_commitment": "name",
    "corrects": "act",
    "voids": "act",
}


def subjects_of(act: Act) -> tuple[str, ...]:
    """Return what an act names as ``kind:id``, sorted, each once.

    ``about`` of a doubt is such a text already. Empty texts name nothing. A mark is named
    where it stands beside its brazer.

    Examples
    --------
    >>> from datetime import UTC, date, datetime
    >>> body = {"person": "ines", "what": "practice", "by": "omar"}
    >>> at = datetime(2026, 3, 13, tzinfo=UTC)
    >>> subjects_of(Act("TrainingGiven", body, date(2026, 3, 4), "omar", at))
    ('person:ines', 'person:omar')
    """
    return tuple(sorted(set(_named(act.body))))


def _named(body: object) -> Iterator[str]:
    waiting = [body]
    while waiting:
        value = waiting.pop()
        if isinstance(value, Mapping):
            if "brazer" in value and isinstance(value.get("mark"), str) and value["mark"]:
                yield f"mark:{value['mark']}"  # of a person; a coupon's mark names no one
            for key, inner in value.items():
                if isinstance(inner, str):
                    kind = _KINDS.get(key)
                    if kind and inner:
                        yield f"{kind}:{inner}"
                    elif key == "about" and ":" in inner:
                        yield inner
                else:
                    waiting.append(inner)
        elif isinstance(value, list | tuple):
            waiting += [inner for inner in value if not isinstance(inner, str)]
