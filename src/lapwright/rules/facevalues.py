"""Which filed readings of a face count, and which of them are one and the same reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from lapwright.core.evidence import MethodCheck, Reading

from .checkreach import upper_under
from .independence import same_stretch
from .methodcheck import stands_unaided

K_95 = Decimal("1.96")  # of the normal distribution, 95 % (JCGM 100, table G.1; from memory)


@dataclass(frozen=True)
class Value:
    """One reading that counts: share, spread and interval, [-], its reader and its day.

    ``unaided`` is ``yes`` where it counts by a method check alone; ``high`` then reaches as
    far as the check's limits of agreement, and ``own_high`` is the reading's own upper end.

    ``u`` is the reading's own standard uncertainty, ``way`` how it was made and ``person``
    who answers for it, empty where a checked method stands by itself.
    """

    share: Decimal
    u: Decimal
    low: Decimal
    high: Decimal
    reader: str
    blind: str
    on: date
    way: str = ""
    person: str = ""
    unaided: str = ""
    own_high: Decimal | None = None

    def by_itself(self) -> Value:
        """Return the reading with its own interval, for use beside a person's reading."""
        return self if self.own_high is None else replace(self, high=self.own_high)

    def among_readers(self, s_r: Decimal | None) -> Value:
        """Return the value with an interval not narrower than that of different readers.

        Parameters
        ----------
        s_r : Decimal or None
            Reproducibility standard deviation of the readers, [-]; unknown when None.

        Notes
        -----
        A person's reading, by loupe or accepted, is one draw among the readers, whatever its
        own budget says. A checked method that stands by itself is not one of them.
        """
        if s_r is None or not self.person:
            return self
        half = K_95 * s_r
        low, high = min(self.low, self.share - half), max(self.high, self.share + half)
        return replace(self, low=low, high=high)

    def doubt(self, limit: Decimal) -> Decimal:
        """Return the standard deviation towards a limit, [-]: at least the reading's own ``u``.

        Parameters
        ----------
        limit : Decimal
            Upper limit, [-].

        Notes
        -----
        An interval may reach farther to one side than 2 u, for remote chances that u leaves
        out: its end is then 1.96 standard deviations away. One of k = 2 or less is u itself.
        """
        side = self.high - self.share if self.share <= limit else self.share - self.low
        return self.u if side <= 2 * self.u else max(self.u, side / K_95)


def usable(readings: Sequence[Reading], checks: Sequence[MethodCheck]) -> list[Value]:
    """Return one value per reading that counts, by day and within a day the worse first.

    Parameters
    ----------
    readings : sequence of Reading
        All filed readings of one face.
    checks : sequence of MethodCheck
        The shop's filed method checks.

    Notes
    -----
    Readings by one person, of one stretch of one photograph, or by one method that nobody
    accepted are one reading with the larger share, so that reading again or accepting twice
    never helps.
    Nothing says which reading of a day came first, so their place in the file decides nothing.
    """
    groups: list[list[Reading]] = []
    for r in sorted(readings, key=lambda r: r.on):
        if r.refused or r.share is None or r.u is None or not counts(r, checks):
            continue
        alike = [g for g in groups if any(_one_reading(r, other) for other in g)]
        merged = [r, *(other for g in alike for other in g)]
        if alike:
            groups[groups.index(alike[0])] = merged
            groups = [g for g in groups if g not in alike[1:]]
        else:
            groups.append(merged)
    values = (_under_check(value_of(group), group, checks) for group in groups)
    return sorted(values, key=lambda v: (v.on, -v.share))


def _under_check(value: Value, group: Sequence[Reading], checks: Sequence[MethodCheck]) -> Value:
    """Let the upper end of what counts by a check alone reach as far as the check's limits."""
    ends = []
    for r in group:
        check = None if _by_person(r) else stands_unaided(r, checks)
        if check is None or r.share is None:
            return value
        ends.append(upper_under(r.share, check))
    return replace(value, high=max(value.high, *ends), unaided="yes", own_high=value.high)


def _by_person(r: Reading) -> object:
    return r.way == "loupe" or r.taken_by


def counts(r: Reading, checks: Sequence[MethodCheck]) -> object:
    """Whether a reading stands by itself: by loupe, accepted, or by a checked method.

    Parameters
    ----------
    r : Reading
        One filed reading.
    checks : sequence of MethodCheck
        The shop's filed method checks.
    """
    return _by_person(r) or stands_unaided(r, checks)


def left_open(r: Reading, limit: Decimal, checks: Sequence[MethodCheck]) -> object:
    """Whether nobody accepted a program's reading that may lie over the limit.

    Parameters
    ----------
    r : Reading
        One filed reading.
    limit : Decimal
        The largest share allowed, [-].
    checks : sequence of MethodCheck
        The shop's filed method checks.

    Notes
    -----
    One that asks for a reader itself is passed over by a loupe reading, unless
    it lies over the limit however its unsure parts are counted.
    """
    if r.refused or r.share is None or r.u is None or counts(r, checks):
        return False
    value = value_of([r])
    return (value.low if r.needs_reader else value.high) > limit


def _one_reading(one: Reading, two: Reading) -> object:
    """Whether two filings are one person's, one method's or of one stretch of a photograph."""
    return _people(one) & _people(two) or _one_method(one, two) or same_stretch(one, two)


def _people(r: Reading) -> set[str]:
    """Return everybody who had a hand in a reading."""
    return {r.reader, r.accepted_by, r.ends_accepted_by} - {""}


def _one_method(one: Reading, two: Reading) -> bool:
    """Whether one method made both readings and no person accepted either: it is the reader."""
    alone = all(r.way != "loupe" and not r.taken_by for r in (one, two))
    return alone and one.method == two.method


def value_of(group: Sequence[Reading]) -> Value:
    """Return the worst reading of a group, at the day of its first one.

    Parameters
    ----------
    group : sequence of Reading
        Measured readings that are one reading.

    Notes
    -----
    Its interval reaches up to the highest end of them all: joining lowers none.
    """
    r = max(group, key=lambda r: r.share or Decimal(0))
    assert r.share is not None  # the caller kept only what was measured
    assert r.u is not None
    low = r.low if r.low is not None else r.share - 2 * r.u
    high = max(upper(one) for one in group)
    first = min(r.on for r in group)
    reader = r.taken_by or r.reader
    person = reader if any(one.way == "loupe" or one.taken_by for one in group) else ""
    return Value(r.share, r.u, low, high, reader, r.blind, first, r.way, person)


def upper(r: Reading) -> Decimal:
    """Return the upper end of a measured reading's 95 % interval, [-].

    Parameters
    ----------
    r : Reading
        One measured reading.
    """
    assert r.share is not None  # the caller kept only what was measured
    assert r.u is not None
    return r.high if r.high is not None else r.share + 2 * r.u
