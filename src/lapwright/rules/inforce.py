"""Whether a qualification is in force: intervals per clock, and every day answered from them.

`in_force` reckons the clocks of one qualification for one employer once; `Held.on`
answers any day: unbroken use under each adopted code (`rules.continuity`), the
record certified and not withdrawn, an acceptance from the day it was signed and
never before, doubts with their scope (`rules.suspended`), employers that took part
in the session. A renewal coupon restores former ranges, a late use never heals;
late paper of a timely use counts and is told. Two codes that disagree on a day are
a conflict that acts on the stricter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from lapwright.core.outcomes import Finding, Verdict, combine

from .continuity import (
    COUPON,
    RENEWED,
    USE,
    Clock,
    InForce,
    Reckoned,
    Renewal,
    Use,
    judge_late_paper,
    judge_unbroken,
    late_uses,
    reckon,
    standing_on,
)
from .qualified import History, Qualification, Test
from .rulebook import Adopted
from .servesemployer import judge_service
from .suspended import judge_suspended, reached_positions

ON = "on"


@dataclass(frozen=True)
class Link:
    """One day that carries a qualification: ``kind`` is ``coupon``, ``renewal`` or ``use``.

    ``late`` is ``late`` where its paper came only after the clock would have run out.
    """

    on: date
    kind: str
    by: str = ""
    procedure: str = ""
    late: str = ""


@dataclass(frozen=True)
class Held:
    """One qualification of one person for one employer, with the intervals of every clock."""

    history: History
    qualification: Qualification
    employer: str
    adopted: Adopted
    clock: Clock
    clocks: tuple[Reckoned, ...]
    late: tuple[Use, ...] = ()

    def on(self, day: date, *, position: str = "") -> Verdict:
        """Return the verdict of a day with every finding.

        Parameters
        ----------
        day : date
            The civil day, such as a joint's braze date.
        position : str, optional
            Letter of a flow position; without one a doubt counts that reaches all of them.
        """
        return combine(self.findings(day, position=position))

    def findings(self, day: date, *, position: str = "") -> Iterator[Finding]:
        """Yield every finding of a day: clocks first."""
        yield judge_unbroken(self.clock, day, adopted=self.adopted, reckoned=self.clocks)
        late = judge_late_paper(self.clock, adopted=self.adopted, late=self.late)
        if late is not None:
            yield late
        yield from self.qualification.standing
        yield from judge_service(
            self.qualification,
            day,
            employer=self.employer,
            clock=self.clock,
            reckoned=self.clocks,
            adopted=self.adopted,
        )
        yield from judge_suspended(
            self.history, self.qualification, day, position=position, adopted=self.adopted
        )

    def suspended(self, day: date) -> tuple[str, ...]:
        """Return the flow positions that a doubt suspends on a day."""
        return reached_positions(self.history, self.qualification, day)

    def interval(self, day: date) -> tuple[InForce | None, ...]:
        """Return, clock by clock, the proved interval that holds a day."""
        return tuple(standing_on(c.proved, day) for c in self.clocks)

    def ends(self, day: date) -> date | None:
        """Return the first day on which a clock that holds ``day`` has ended, or None."""
        found = [s.ends for s in self.interval(day) if s is not None]
        return min(found) if len(found) == len(self.clocks) and found else None

    def chain(self, day: date, clock: Reckoned) -> tuple[Link, ...]:
        """Return the days up to ``day`` that carry a clock, oldest first; empty where it ended."""
        span = standing_on(clock.proved, day)
        if span is None:
            return ()
        links = [Link(d, COUPON) for d in self.clock.brazed]
        links += [Link(r.on, RENEWED, r.record, r.procedure) for r in clock.renewed]
        links += [
            Link(u.on, USE, u.by, u.procedure, "late" if u in self.late else "")
            for u in clock.counted
        ]
        first: dict[date, Link] = {}
        for link in sorted(links, key=lambda k: (k.on, k.kind)):
            if span.since <= link.on <= min(day, span.last):
                first.setdefault(link.on, link)
        return tuple(first.values())


def in_force(
    history: History, qualification: Qualification, *, adopted: Adopted, employer: str = ""
) -> Held:
    """Reckon the clocks of one qualification for one employer.

    Parameters
    ----------
    history : History
        Everything known of the person by the day asked about.
    qualification : Qualification
        One of the person's.
    adopted : Adopted
        The basis: adopted editions with their confirmations.
    employer : str, optional
        Whom it is to serve; the one that tested when empty.
    """
    clock = clock_for(history, qualification)
    return Held(
        history,
        qualification,
        employer or qualification.employer,
        adopted,
        clock,
        reckon(clock, adopted=adopted),
        late_uses(clock, adopted=adopted),
    )


def clock_for(history: History, qualification: Qualification) -> Clock:
    """Return what the clocks of a qualification run on: its own coupons, uses and renewals.

    Every passed coupon of the process is a use of it as well. A supplementary coupon
    lives and lapses with its base where the basis chose so.

    Parameters
    ----------
    history : History
        Everything known of the person.
    qualification : Qualification
        One of the person's.
    """
    base = _base(history, qualification)
    root = base or qualification
    uses = [*history.uses, *(_as_use(t) for _, t in history.tests)]
    return Clock(
        person=history.person,
        brazed=(root.brazed_on,),
        process=root.process,
        procedures=root.procedures,
        uses=tuple(u for u in dict.fromkeys(uses) if u.on > root.brazed_on),
        late_paper=history.late_paper,
        renewed=tuple(_renewals(history, root)),
        not_before=qualification.brazed_on if base else None,
    )


def _base(history: History, qualification: Qualification) -> Qualification | None:
    if history.supplementary != ON or not qualification.supplements:
        return None
    found = (q for q in history.qualifications if q.id == qualification.supplements)
    return next(found, None)


def _as_use(test: Test) -> Use:
    return Use(
        test.on, test.variables.process, test.procedure, test.witness or test.coupon, test.on
    )


def _renewals(history: History, root: Qualification) -> Iterator[Renewal]:
    """Yield later coupons that repeat all variables of an earlier one of the same employer."""
    before = [
        (q, t)
        for q, t in history.tests
        if q.employer == root.employer and q.process == root.process
    ]
    for owner, test in before:
        if test.on <= root.brazed_on:
            continue
        earlier = [t.variables for _, t in before if t.on < test.on]
        same = [v for v in earlier if _but_kind(v) == _but_kind(test.variables)]
        if not same:
            continue
        kind = test.variables.kind
        doubtful = "" if any(v.kind == kind and kind for v in same) else "thickness and overlap"
        if owner.certified_on is None or owner.withdrawn is not None:
            doubtful = "certification"  # nobody stands behind that coupon
        yield Renewal(test.on, test.procedure, owner.id, doubtful, owner.certified_on)


def _but_kind(variables: object) -> tuple[object, ...]:
    return tuple(v for k, v in vars(variables).items() if k != "kind")
