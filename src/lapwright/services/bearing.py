"""What the programme's own entries say of one case: doubts of its instruments, adopted rules.

A case is judged from its own stream and from these, and both are attached to its
record, so that the record is judged again from its attached acts alone. Entries
about other people, papers or instruments are never attached.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from lapwright.core.acts import Act
from lapwright.core.bodies import doubt_of
from lapwright.core.evidence import Doubt
from lapwright.core.fold import PROGRAMME
from lapwright.core.standing import standing
from lapwright.core.subjects import subjects_of
from lapwright.ledger.gather import gather
from lapwright.ledger.log import Entry, Log
from lapwright.rules.doubted import reaches

OF_INSTRUMENTS = ("InstrumentFiled", "DoubtRaised", "DoubtCleared")
OF_RULES = ("RuleConfirmed", "RangeTableAdopted", "MethodChecked")
_RULES_RAW = tuple(f'"{kind}"'.encode() for kind in OF_RULES)


def bearing_acts(log: Log, acts: Sequence[Act]) -> tuple[Act, ...]:
    """Return the programme's acts that bear on a case, with what corrects or voids them.

    Parameters
    ----------
    log : Log
        The ledger.
    acts : sequence of Act
        The case's own acts.

    Returns
    -------
    tuple of Act
        Oldest first: filings and doubts of instruments that the case names, rules confirmed,
        range tables and method checks of the programme.
    """
    rules = [e for e in log.entries(stream=PROGRAMME) if any(k in e.raw for k in _RULES_RAW)]
    named = [s for s in sorted({s for a in acts for s in subjects_of(a)}) if _instrument(s)]
    changes = [f"act:{e.act.sha256}" for e in rules]
    found: dict[int, Entry] = {e.seq: e for e in (*rules, *gather(log, *named, *changes))}
    kept = (found[seq].act for seq in sorted(found) if found[seq].stream == PROGRAMME)
    return tuple(a for a in kept if a.type in _KINDS)


_KINDS = frozenset((*OF_INSTRUMENTS, *OF_RULES, "ActCorrected", "ActVoided"))


def known_on(acts: Sequence[Act], kept: Sequence[Act], *, as_of: date) -> tuple[Act, ...]:
    """Return of ``kept`` what happened by a day, with the corrections of it.

    Parameters
    ----------
    acts : sequence of Act
        As `bearing_acts` gives them.
    kept : sequence of Act
        Those of them that were not voided.
    as_of : date
        The civil day asked about.
    """
    names = {s.sha256 for s in standing(acts, as_of=as_of)}
    found = []
    for act in kept:
        if act.body.get("corrects", act.sha256) in names:
            names.add(act.sha256)
            found.append(act)
    return tuple(found)


def doubts_after(wide: Sequence[Act], own: Sequence[Act], *, as_of: date) -> Iterator[Act]:
    """Yield the doubts raised after a day that reach a figure of a case.

    Parameters
    ----------
    wide : sequence of Act
        As `bearing_acts` gives them.
    own : sequence of Act
        The case's own acts.
    as_of : date
        The civil day asked about.
    """
    for found in standing(wide, as_of=date.max):
        if found.act.type == "DoubtRaised" and found.act.happened_on > as_of:
            doubt = doubt_of(found.act)
            if any(_touches(doubt, act) for act in own):
                yield found.act


def _touches(doubt: Doubt, act: Act) -> str:
    """Say ``reached`` where an act of a case took a figure with the doubted instrument."""
    if act.type == "InstrumentFiled" or doubt.about not in subjects_of(act):
        return ""
    return reaches(doubt, doubt.about.removeprefix("instrument:"), act.happened_on)


def _instrument(subject: str) -> str:
    return subject if subject.startswith("instrument:") else ""
