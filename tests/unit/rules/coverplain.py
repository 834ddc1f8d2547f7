"""A slow, plain second judgement of cover: one cell after the other, figures by hand.

It shares no rule with `lapwright.rules`: positions, bands, quarter and window are written out
as a person with the pages before them would, in exact fractions of an inch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

MET, OPEN, STRICT, NOT = "met", "open", "strict", "not"
WORST = (MET, OPEN, STRICT, NOT)
PQR_FILLER, PQR_FORM = "103", "rod"  # every record of the procedure
SERVES = {"B": "B", "C": "BC", "D": "BD"}


@dataclass(frozen=True)
class PlainTest:
    """A passed joint."""

    position: str
    metals: tuple[str, str]
    f_number: str
    form: str
    flux: str
    overlap: Fraction | None
    wall: Fraction


@dataclass(frozen=True)
class PlainRecord:
    """A record: its joints, what holds of the whole of it, the procedure's window."""

    gate: str
    tests: tuple[PlainTest, ...]
    records: tuple[tuple[Fraction, Fraction, str], ...]  # overlap, wall, positions


@dataclass(frozen=True)
class PlainJoint:
    """A job joint; ``overlap`` measured, or ``table`` with the least depth."""

    position: str
    metals: tuple[str, str]
    f_number: str
    form: str
    flux: str
    overlap: Fraction | None
    table: Fraction
    wall: Fraction
    fitting_wall: Fraction


def answer(joint: PlainJoint, held: Sequence[PlainRecord]) -> str:
    """Return the best answer of all records of a person."""
    return min((_by(joint, r, held) for r in held), key=WORST.index, default=NOT)


def _by(joint: PlainJoint, record: PlainRecord, held: Sequence[PlainRecord]) -> str:
    best = NOT
    for group in _groups(record.tests):
        parts = [record.gate, _group(joint, group, record, held)]
        if record.records:
            parts.append(min((_window(joint, r) for r in record.records), key=WORST.index))
        best = min(best, max(parts, key=WORST.index), key=WORST.index)
    return best


def _groups(tests: Sequence[PlainTest]) -> list[list[PlainTest]]:
    found: dict[tuple[str, ...], list[PlainTest]] = {}
    for t in tests:
        found.setdefault((t.position, t.f_number, t.form, t.flux), []).append(t)
    return list(found.values())


def _group(
    joint: PlainJoint,
    group: Sequence[PlainTest],
    record: PlainRecord,
    held: Sequence[PlainRecord],
) -> str:
    known = [t.overlap for t in group if t.overlap is not None]
    answers = []
    for t in group:
        if t.f_number != joint.f_number or t.form != joint.form:
            return NOT
        if joint.position not in SERVES[t.position] or not _metals(joint, record, held):
            return NOT
        low, high = _band(t.wall)
        if not low <= joint.wall <= high:
            return NOT
        answers.append(_overlap(joint, min(known) if t.overlap is not None else None))
    return max(answers, key=WORST.index)


def _band(wall: Fraction) -> tuple[Fraction, Fraction]:
    return (wall / 2 if wall < Fraction(1, 8) else Fraction(1, 16)), 2 * wall


def _metals(joint: PlainJoint, record: PlainRecord, held: Sequence[PlainRecord]) -> object:
    asked = sorted(joint.metals)
    own = [t for t in record.tests if t.f_number == joint.f_number]
    if any(sorted(t.metals) == asked for t in own):
        return "own"
    others = [t for r in held if r.gate == MET for t in r.tests]
    alone = {
        t.metals[0]
        for t in (*record.tests, *others)
        if t.metals[0] == t.metals[1] and (t.f_number, t.flux) == (joint.f_number, joint.flux)
    }
    return set(asked) <= alone


def _overlap(joint: PlainJoint, tested: Fraction | None) -> str:
    if tested is None:
        return OPEN
    ceiling = tested * 5 / 4
    if joint.overlap is not None:
        return MET if joint.overlap <= ceiling else NOT
    return NOT if joint.table > ceiling else OPEN


def _window(joint: PlainJoint, record: tuple[Fraction, Fraction, str]) -> str:
    floor, wall, letters = record
    if (joint.f_number, joint.form) != (PQR_FILLER, PQR_FORM):
        return NOT
    if not any(joint.position in SERVES[letter] for letter in letters):
        return NOT
    low, high = _band(wall)
    if not (low <= joint.wall <= high and low <= joint.fitting_wall <= high):
        return NOT
    if joint.overlap is not None:
        return MET if joint.overlap >= floor else NOT
    return MET if joint.table >= floor else OPEN
