"""How long a qualification stays in force without use: the intervals, and one day asked.

ASME BPVC IX, QB-322(a): not having used the process for six months or more ends
it. NFPA 99: a period exceeding six months without brazing with the qualified
procedure. Both operators are data, so one day can divide them. Clocks start on
the braze date. A late use never heals a gap; a timely use whose paper came late
counts and is told, unless the programme refuses late paper. A use without a
witness, or without the name of its process or procedure, proves nothing, but
keeps the question open where it would decide it.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.times import add_months

from .asking import Question, Ruling
from .rulebook import Adopted, Rule
from .rulings import met, not_met

RULE, SCOPE = "continuity.max_gap", "continuity.scope"
REFUSED = "refused"


@dataclass(frozen=True)
class Use:
    """One day on which the process was used: ``by`` is the witness.

    ``written_on`` is the day on which the use was put on paper, ``None`` when nobody said.
    """

    on: date
    process: str
    procedure: str = ""
    by: str = ""
    written_on: date | None = None


@dataclass(frozen=True)
class Clock:
    """What the clocks of one qualification run on.

    ``brazed`` are the braze dates of its coupons; ``procedures`` the ids under which a
    use counts where the procedure is the unit of use; ``late_paper`` is the
    programme's choice, ``refused`` or ``counts-flagged``.
    """

    person: str
    brazed: tuple[date, ...]
    process: str
    procedures: tuple[str, ...]
    uses: tuple[Use, ...]
    late_paper: str = ""


@dataclass(frozen=True)
class InForce:
    """From ``since`` up to the day before ``ends``; ``last`` is the last use that counted."""

    since: date
    last: date
    ends: date


def first_late_day(last: date, rule: Rule) -> date:
    """Return the first day on which a qualification without further use has ended.

    Parameters
    ----------
    last : date
        Last use, or the braze date.
    rule : Rule
        ``continuity.max_gap`` with its operator.
    """
    months, unit = rule.value.split()
    if unit != "months" or rule.operator not in (">=", ">"):
        raise ValueError(f"{rule.key}: months with > or >= are wanted")
    complete = add_months(last, int(months))
    return complete if rule.operator == ">=" else complete + timedelta(days=1)


def intervals(brazed: Iterable[date], used: Iterable[date], *, rule: Rule) -> tuple[InForce, ...]:
    """Return the intervals in which a qualification is in force.

    A use on or after the day that ended an interval heals nothing; only another
    coupon opens a new interval.

    Parameters
    ----------
    brazed : iterable of date
        Days on which coupons of the qualification were brazed.
    used : iterable of date
        Days of use that count.
    rule : Rule
        ``continuity.max_gap``.
    """
    found: list[InForce] = []
    events = sorted([*((d, "coupon") for d in brazed), *((d, "use") for d in used)])
    for day, kind in events:
        if found and day < found[-1].ends:
            found[-1] = InForce(found[-1].since, day, first_late_day(day, rule))
        elif kind == "coupon":
            found.append(InForce(day, day, first_late_day(day, rule)))
    return tuple(found)


def standing_on(spans: Sequence[InForce], on: date) -> InForce | None:
    """Return the interval that holds a day, or None."""
    return next((s for s in spans if s.since <= on < s.ends), None)


def clock_of(clock: Clock, rule: Rule, *, adopted: Adopted) -> tuple[InForce, ...]:
    """Return the intervals of a clock by what is proved, under one edition's rule."""
    sure, _ = _sorted_out(clock, _scope(rule, adopted), rule)
    return intervals(clock.brazed, [u.on for u in sure], rule=rule)


def judge_unbroken(clock: Clock, on: date, *, adopted: Adopted) -> Finding:
    """Judge whether use was unbroken up to and including a day.

    Parameters
    ----------
    clock : Clock
        Braze dates and uses.
    on : date
        The day asked about.
    adopted : Adopted
        The adopted editions; each answers by its own operator and unit of use.
    """
    ask = Question(RULE, Subject("person", clock.person), adopted, also=(SCOPE,))
    missing = ask.lacks(**{"brazed": clock.brazed, "process": clock.process})
    return missing or ask.answer(lambda rule: _unbroken(clock, on, rule, adopted))


def late_uses(clock: Clock, *, adopted: Adopted) -> tuple[Use, ...]:
    """Return the uses whose paper came only after the clock would have run out without them.

    A use whose day of writing nobody stated is one of them. What counts as "without them" is
    asked of the same clock: a use that proves nothing for it (another process, another
    procedure, no witness, refused paper) makes no later paper timely.
    """
    late: dict[Use, None] = {}
    for rule in _known(adopted):
        weighed = _weighed(clock, _scope(rule, adopted), rule)
        late |= dict.fromkeys(w.use for w in weighed if w.late and w.whole)
    return tuple(sorted(late, key=lambda u: u.on))


def judge_late_paper(clock: Clock, *, adopted: Adopted) -> Finding | None:
    """Tell the uses that were proved late; ``None`` where there are none.

    They count: a gap is in the brazing, not in the filing. Where the programme
    refuses late paper they prove nothing, which `judge_unbroken` has reckoned with.
    """
    late = late_uses(clock, adopted=adopted)
    if not late or not adopted.has("late.paper"):
        return None
    ask = Question("late.paper", Subject("person", clock.person), adopted)
    days = ", ".join(u.on.isoformat() for u in late)
    told = "continuity.late_refused" if clock.late_paper == REFUSED else "continuity.late"
    return ask.answer(lambda _: met(told, days=days, saw=days))


def _known(adopted: Adopted) -> list[Rule]:
    return [r for r in adopted.all(RULE) if r.value is not None]


def _scope(rule: Rule, adopted: Adopted) -> str:
    own = [r for r in adopted.all(SCOPE) if (r.code, r.edition) == (rule.code, rule.edition)]
    return own[0].value if own and own[0].value is not None else "procedure"  # the narrower


def _unbroken(clock: Clock, on: date, rule: Rule, adopted: Adopted) -> Ruling:
    scope = _scope(rule, adopted)
    sure, maybe = _sorted_out(clock, scope, rule)
    proved = intervals(clock.brazed, [u.on for u in sure], rule=rule)
    shown = {"scope": scope, "code": rule.cite.title or rule.code, "on": on.isoformat()}
    held = standing_on(proved, on)
    if held is not None:
        bound = f"before {held.ends.isoformat()}"
        last = held.last.isoformat()
        return met(
            "continuity.unbroken", last=last, ends=held.ends.isoformat(), **shown, bound=bound
        )
    begun = [s for s in proved if s.since <= on]
    if not begun:
        first = min(clock.brazed).isoformat()
        return not_met("continuity.not_begun", brazed=first, on=shown["on"], saw=first)
    possible = intervals(clock.brazed, [u.on for u in (*sure, *maybe)], rule=rule)
    ended = {"last": begun[-1].last.isoformat(), "ends": begun[-1].ends.isoformat()}
    if standing_on(possible, on) is not None:
        days = ", ".join(sorted(u.on.isoformat() for u in maybe))
        told = Message("continuity.unproved", days=days, **ended, **shown)
        why = (
            Why.NEEDS_DATA if any(not u.process or _nameless(u, scope) for u in maybe) else Why.HOLD
        )
        return Ruling(Outcome.UNDETERMINED, told, why, observed=ended["last"])
    return not_met("continuity.ended", **ended, **shown, saw=ended["last"])


@dataclass(frozen=True)
class _Weighed:
    """A use that bears on a clock: ``whole`` where its entry lacks nothing, ``late`` its paper."""

    use: Use
    whole: str
    late: str


def _sorted_out(clock: Clock, scope: str, rule: Rule) -> tuple[list[Use], list[Use]]:
    """Return the uses that prove, and those that would prove if their entry were complete."""
    sure: list[Use] = []
    maybe: list[Use] = []
    for weighed in _weighed(clock, scope, rule):
        refused = weighed.late if clock.late_paper == REFUSED else ""
        if not refused:
            (sure if weighed.whole else maybe).append(weighed.use)
        elif weighed.use.written_on is None:
            maybe.append(weighed.use)
    return sure, maybe


def _weighed(clock: Clock, scope: str, rule: Rule) -> Iterator[_Weighed]:
    """Yield the uses of the clock's own process and procedure, oldest first.

    Whether paper is late is asked of the coupons and of the uses that prove something here.
    """
    proved = sorted(clock.brazed)
    for use in sorted(clock.uses, key=lambda u: u.on):
        other_process = use.process and use.process != clock.process
        known = not _nameless(use, scope)
        if other_process or (
            scope == "procedure" and known and use.procedure not in clock.procedures
        ):
            continue
        whole = use.process and known and use.by.casefold() not in ("", clock.person.casefold())
        late = _late(use, proved, rule)
        if whole and not (late and clock.late_paper == REFUSED):
            insort(proved, use.on)
        yield _Weighed(use, "whole" if whole else "", late)


def _nameless(use: Use, scope: str) -> str:
    return "nameless" if scope == "procedure" and not use.procedure else ""


def _late(use: Use, proved: Sequence[date], rule: Rule) -> str:
    """Say ``late`` where the paper came after the clock had run out without this use."""
    before = bisect_left(proved, use.on)
    if before == 0:
        return ""
    ends = first_late_day(proved[before - 1], rule)
    return "late" if use.written_on is None or use.written_on >= ends else ""
