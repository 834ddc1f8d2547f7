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
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.times import add_months

from .asking import Question, Ruling
from .rulebook import Adopted, Rule
from .rulings import met, not_met

RULE, SCOPE, RENEWAL = "continuity.max_gap", "continuity.scope", "renewal.coupon"
REFUSED = "refused"
COUPON, RENEWED, USE = "coupon", "renewal", "use"


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
class Renewal:
    """A passed coupon with all variables of an earlier one: it restores what had ended.

    ``doubtful`` names what nobody has compared or signed; such a coupon may renew, and proves
    nothing. ``certified_on`` is the day on which its record was signed.
    """

    on: date
    procedure: str
    record: str = ""
    doubtful: str = ""
    certified_on: date | None = None


@dataclass(frozen=True)
class Clock:
    """What the clocks of one qualification run on.

    ``brazed`` are the braze dates of its coupons; ``procedures`` the ids under which a
    use counts where the procedure is the unit of use; ``late_paper`` is the
    programme's choice, ``refused`` or ``counts-flagged``; ``renewed`` are later coupons
    that restore the qualification. ``not_before`` is the braze date of a supplementary
    coupon that lives on the clocks of its base.
    """

    person: str
    brazed: tuple[date, ...]
    process: str
    procedures: tuple[str, ...]
    uses: tuple[Use, ...]
    late_paper: str = ""
    renewed: tuple[Renewal, ...] = ()
    not_before: date | None = None


@dataclass(frozen=True)
class InForce:
    """From ``since`` up to the day before ``ends``; ``last`` is the last use that counted.

    ``opened`` says what began it: ``coupon`` or ``renewal``.
    """

    since: date
    last: date
    ends: date
    opened: str = COUPON


@dataclass(frozen=True)
class Reckoned:
    """One edition's clock, reckoned once: ``proved`` intervals, and those ``possible``.

    ``counted`` are the uses that prove; ``unproved`` those whose entry lacks something, or
    which the programme holds. ``renewed`` are the renewals that count for this clock.
    """

    rule: Rule
    scope: str
    proved: tuple[InForce, ...]
    possible: tuple[InForce, ...]
    counted: tuple[Use, ...]
    unproved: tuple[Use, ...]
    renewed: tuple[Renewal, ...] = ()


def first_late_day(last: date, rule: Rule) -> date:
    """Return the first day on which a qualification without further use has ended.

    Parameters
    ----------
    last : date
        Last use, or the braze date.
    rule : Rule
        ``continuity.max_gap`` with its operator.
    """
    if not rule.value.endswith(" months") or rule.operator not in (">=", ">"):
        raise ValueError(f"{rule.key}: months with > or >= are wanted")
    return _first_late(last, rule.value, rule.operator)


# Many people braze on the same days; each day is reckoned once.
@lru_cache(maxsize=8192)
def _first_late(last: date, value: str, operator: str) -> date:
    complete = add_months(last, int(value.split()[0]))
    return complete if operator == ">=" else complete + timedelta(days=1)


def intervals(
    brazed: Iterable[date], used: Iterable[date], *, rule: Rule, renewed: Iterable[date] = ()
) -> tuple[InForce, ...]:
    """Return the intervals in which a qualification is in force.

    A use on or after the day that ended an interval heals nothing; only another
    coupon opens a new interval. A renewal before the first coupon opens none: there
    is nothing to restore.

    Parameters
    ----------
    brazed : iterable of date
        Days on which coupons of the qualification were brazed.
    used : iterable of date
        Days of use that count.
    rule : Rule
        ``continuity.max_gap``.
    renewed : iterable of date, optional
        Days on which renewal coupons were brazed.
    """
    events = [(d, COUPON) for d in brazed]
    events += [(d, RENEWED) for d in renewed]
    events += [(d, USE) for d in used]
    found: list[InForce] = []
    since = last = ends = date.min
    opened = ""
    for day, kind in sorted(events):
        if opened and day < ends:
            if day > last:
                last, ends = day, first_late_day(day, rule)
        elif kind == COUPON or (kind == RENEWED and opened):
            if opened:
                found.append(InForce(since, last, ends, opened))
            since, last, ends, opened = day, day, first_late_day(day, rule), kind
    return (*found, InForce(since, last, ends, opened)) if opened else ()


def standing_on(spans: Sequence[InForce], on: date) -> InForce | None:
    """Return the interval that holds a day, or None."""
    return next((s for s in spans if s.since <= on < s.ends), None)


def clock_of(clock: Clock, rule: Rule, *, adopted: Adopted) -> tuple[InForce, ...]:
    """Return the intervals of a clock by what is proved, under one edition's rule."""
    return _reckoned(clock, rule, adopted).proved


def reckon(clock: Clock, *, adopted: Adopted) -> tuple[Reckoned, ...]:
    """Return the clock of every adopted edition that states one, in their order.

    Parameters
    ----------
    clock : Clock
        Braze dates, uses and renewals.
    adopted : Adopted
        The adopted editions; a rule whose text nobody has read has no clock.
    """
    return tuple(_reckoned(clock, rule, adopted) for rule in _known(adopted))


def _reckoned(clock: Clock, rule: Rule, adopted: Adopted) -> Reckoned:
    scope = _scope(rule, adopted)
    sure, maybe = _sorted_out(clock, scope, rule)
    used = [u.on for u in sure]
    renewed = tuple(
        r for r in clock.renewed if scope == "process" or r.procedure in clock.procedures
    )
    known = "stated" if adopted.has(RENEWAL) else ""  # else nobody said what a renewal restores
    opening = [r.on for r in renewed if known and not r.doubtful]
    proved = intervals(clock.brazed, used, rule=rule, renewed=opening)
    possible = proved
    if maybe or len(opening) < len(renewed):
        every = [*used, *(u.on for u in maybe)]
        possible = intervals(clock.brazed, every, rule=rule, renewed=[r.on for r in renewed])
    proved, possible = (_clipped(spans, clock.not_before) for spans in (proved, possible))
    return Reckoned(rule, scope, proved, possible, tuple(sure), tuple(maybe), renewed)


def _clipped(spans: tuple[InForce, ...], start: date | None) -> tuple[InForce, ...]:
    if start is None:
        return spans
    return tuple(replace(s, since=max(s.since, start)) for s in spans if s.ends > start)


def judge_unbroken(
    clock: Clock, on: date, *, adopted: Adopted, reckoned: Sequence[Reckoned] | None = None
) -> Finding:
    """Judge whether use was unbroken up to and including a day.

    Parameters
    ----------
    clock : Clock
        Braze dates and uses.
    on : date
        The day asked about.
    adopted : Adopted
        The adopted editions; each answers by its own operator and unit of use.
    reckoned : sequence of Reckoned, optional
        What `reckon` made of the same clock, to ask about many days.
    """
    clocks = {
        r.rule.key: r for r in (reckon(clock, adopted=adopted) if reckoned is None else reckoned)
    }
    healed = any(_opened_by(r, on) == RENEWED for r in clocks.values())
    also = (SCOPE, RENEWAL) if healed else (SCOPE,)
    ask = Question(RULE, Subject("person", clock.person), adopted, also=also)
    missing = ask.lacks(**{"brazed": clock.brazed, "process": clock.process})
    return missing or ask.answer(lambda rule: _unbroken(clock, on, clocks[rule.key]))


def _opened_by(reckoned: Reckoned, on: date) -> str:
    held = standing_on(reckoned.proved, on)
    return held.opened if held else ""


def late_uses(clock: Clock, *, adopted: Adopted) -> tuple[Use, ...]:
    """Return the timely uses whose paper came only after the clock would have run out without them.

    A use whose day of writing nobody stated is one of them; one that came itself too late is
    none, it heals nothing. What counts as "without them" is asked of the same clock: a use
    that proves nothing for it (another process, another procedure, no witness, refused paper)
    makes no later paper timely.
    """
    late: dict[Use, None] = {}
    for rule in _known(adopted):
        weighed = _weighed(clock, _scope(rule, adopted), rule)
        late |= dict.fromkeys(w.use for w in weighed if w.late and w.whole)
    return tuple(sorted(late, key=lambda u: u.on))


def judge_late_paper(
    clock: Clock, *, adopted: Adopted, late: Sequence[Use] | None = None
) -> Finding | None:
    """Tell the uses that were proved late; ``None`` where there are none.

    They count: a gap is in the brazing, not in the filing. Where the programme
    refuses late paper they prove nothing, which `judge_unbroken` has reckoned with.
    ``late`` are the `late_uses` of the clock, where they are known already.
    """
    if late is None:
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


def _unbroken(clock: Clock, on: date, reckoned: Reckoned) -> Ruling:
    rule, scope = reckoned.rule, reckoned.scope
    shown = {"scope": scope, "code": rule.cite.title or rule.code, "on": on.isoformat()}
    held = standing_on(reckoned.proved, on)
    if held is not None:
        ends, last = held.ends.isoformat(), held.last.isoformat()
        since = held.since.isoformat()
        if held.opened == RENEWED:
            return met(
                "continuity.renewed",
                since=since,
                last=last,
                ends=ends,
                **shown,
                bound=f"before {ends}",
            )
        return met("continuity.unbroken", last=last, ends=ends, **shown, bound=f"before {ends}")
    begun = [s for s in reckoned.proved if s.since <= on]
    if not begun:
        first = (clock.not_before or min(clock.brazed)).isoformat()
        return not_met("continuity.not_begun", brazed=first, on=shown["on"], saw=first)
    ended = {"last": begun[-1].last.isoformat(), "ends": begun[-1].ends.isoformat()}
    if standing_on(reckoned.possible, on) is not None:
        return _open(on, reckoned, {**ended, **shown})
    return not_met("continuity.ended", **ended, **shown, saw=ended["last"])


def _open(on: date, reckoned: Reckoned, shown: dict[str, str]) -> Ruling:
    """Return what stays open: entries that lack something, or a coupon that may renew."""
    maybe = [u for u in reckoned.unproved if u.on <= on]
    if not maybe:
        days = ", ".join(r.on.isoformat() for r in reckoned.renewed if r.on <= on)
        told = Message("continuity.perhaps_renewed", days=days, **shown)
        return Ruling(Outcome.UNDETERMINED, told, Why.HOLD, observed=shown["last"])
    days = ", ".join(sorted(u.on.isoformat() for u in maybe))
    told = Message("continuity.unproved", days=days, **shown)
    lacking = any(not u.process or _nameless(u, reckoned.scope) for u in maybe)
    why = Why.NEEDS_DATA if lacking else Why.HOLD
    return Ruling(Outcome.UNDETERMINED, told, why, observed=shown["last"])


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
    proved = sorted((*clock.brazed, *(r.on for r in clock.renewed if not r.doubtful)))
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
    if use.written_on is not None and use.written_on <= use.on:
        return ""
    before = bisect_left(proved, use.on)
    if before == 0:
        return ""
    ends = first_late_day(proved[before - 1], rule)
    if use.on >= ends:
        return ""  # too late itself, whenever it was written down
    return "late" if use.written_on is None or use.written_on >= ends else ""
