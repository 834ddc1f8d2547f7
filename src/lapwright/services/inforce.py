"""Who is in force on a day: every person and qualification of a ledger or of case folders.

One row a person, qualification and employer that it serves, judged by
`lapwright.rules.inforce`; beside it what a person may install (`rules.installers`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from lapwright.core.evidence import Doubt
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log
from lapwright.rules.asking import Question
from lapwright.rules.continuity import InForce, Reckoned, standing_on
from lapwright.rules.due import Lead, lead_days
from lapwright.rules.inforce import Held, Link, in_force
from lapwright.rules.installers import CREDENTIAL, judge_installer, judge_may_braze
from lapwright.rules.qualified import History, Qualification
from lapwright.rules.rulebook import Adopted

from .errors import BrazerUnknown, CaseIdTwice
from .inforceacts import acts_about, every_act
from .inforcefold import Days, Known, known
from .uncollected import uncollected

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Asked:
    """What is asked: the days, within how many days a use is due, whom it is about."""

    days: Days
    due: int | None = None
    person: str = ""
    employer: str = ""
    basis: str = ""


@dataclass(frozen=True)
class ClockOn:
    """One clock on the day asked about: the interval that holds it, else the latest before it."""

    reckoned: Reckoned
    span: InForce | None
    holds: str


@dataclass(frozen=True)
class Row:
    """One qualification of one person for one employer on the day.

    ``ends`` is the first day without it by the clock that ends first; ``carried`` the chain
    of that clock; ``basis`` the case or stream whose basis judged it.
    """

    held: Held
    verdict: Verdict
    basis: str
    clocks: tuple[ClockOn, ...]
    ends: date | None
    carried: tuple[Link, ...]
    suspended: tuple[str, ...]

    @property
    def leads(self) -> tuple[Lead, ...]:
        """The warning days of the clock that ends first; none where one has ended."""
        spans = [c.span for c in self.clocks if c.span is not None and c.holds]
        if self.ends is None or not spans:
            return ()
        first = min(spans, key=lambda s: s.ends)
        return lead_days(first.last, adopted=self.held.adopted)


@dataclass(frozen=True)
class People:
    """The answer: rows in the order of people, findings on installers, names by person.

    ``without`` are people of whom nothing is known that could be in force.
    """

    asked: Asked
    rows: tuple[Row, ...]
    installers: tuple[Finding, ...]
    names: dict[str, str]
    without: tuple[str, ...] = ()


def in_force_of_log(log: Log, files: FileStore, asked: Asked) -> People:
    """Answer from a ledger.

    Parameters
    ----------
    log, files : Log, FileStore
        The ledger and its files.
    asked : Asked
        With a person, only that person's entries are read.

    Raises
    ------
    BrazerUnknown, BasisUnclear
    """
    with uncollected():
        acts = acts_about(log, asked.person) if asked.person else every_act(log)
        found = known(acts, asked.days, payload=files.get, basis=asked.basis)
        if asked.person and asked.person not in found.histories:
            raise _unknown(asked.person, "somebody with a record, a paper or a use in the ledger")
        _hold_touched(log, found)
        side = log.side_records()
        names = {p: side[c].value for p, c in found.names.items() if c in side}
        return answer(found, asked, names)


def _hold_touched(log: Log, found: Known) -> None:
    """Hold the records of cases in which a doubted instrument took a figure."""
    from .doubts import touched

    for doubt in found.instruments:
        rows = touched(log, doubt, as_of=date.max)
        numbers = {row.id.rpartition("-r")[0] for row in rows if row.kind == "record"}
        for person, history in found.histories.items():
            if any(q.id in numbers for q in history.qualifications):
                made = tuple(
                    _held_for(doubt, q, found) if q.id in numbers else q
                    for q in history.qualifications
                )
                found.histories[person] = replace(history, qualifications=made)


def _held_for(doubt: Doubt, held: Qualification, found: Known) -> Qualification:
    ask = Question("instrument.doubted", Subject("record", held.id), found.bases[held.id][1])
    told = Message(
        "force.instrument",
        record=held.id,
        instrument=doubt.about.removeprefix("instrument:"),
        found=doubt.found_on.isoformat(),
        reason=doubt.reason,
    )
    return replace(held, standing=(*held.standing, ask.hold(told)))


def in_force_of_cases(
    folders: Sequence[Path], asked: Asked, *, progress: Progress | None = None
) -> People:
    """Answer from case folders; they hold no uses and no signatures of employers.

    Parameters
    ----------
    folders : sequence of Path
        The case folders; several of one brazer are one history.
    asked : Asked
        What is asked.
    progress : callable, optional
        Told before each photograph is measured.

    Raises
    ------
    CaseIdTwice
        If two folders are one case.
    LapwrightError
        For a folder that cannot be read.
    """
    from .judging import judge_case
    from .qualifiedtests import of_case

    found = Known()
    names: dict[str, str] = {}
    for folder in folders:
        case = judge_case(folder, as_of=asked.days.as_of, progress=progress)
        judgement = case.judged.judgement
        evidence = judgement.evidence
        if evidence.case in found.bases:
            raise CaseIdTwice(
                "two folders of one case",
                got=evidence.case,
                where=str(folder),
                expected="every case once",
                do="Leave one of them out.",
            )
        found.bases[evidence.case] = (evidence.case, judgement.adopted)
        names |= case.loaded.names
        before = found.histories.get(evidence.brazer, History(evidence.brazer, ()))
        option = evidence.basis.option if evidence.basis else (lambda _: "")
        found.histories[evidence.brazer] = replace(
            before,
            qualifications=(*before.qualifications, *of_case(judgement)),
            late_paper=option("late_paper"),
            supplementary=option("supplementary_coupons"),
        )
    if asked.person and asked.person not in found.histories:
        raise _unknown(asked.person, ", ".join(found.histories))
    return answer(found, asked, names)


def answer(found: Known, asked: Asked, names: dict[str, str]) -> People:
    """Judge every qualification of every person on the day asked about.

    Parameters
    ----------
    found : Known
        Histories with the basis of every record.
    asked : Asked
        What is asked.
    names : dict
        Person to name, where it is known.
    """
    rows: list[Row] = []
    installers: list[Finding] = []
    for person, history in found.histories.items():
        if asked.person not in ("", person):
            continue
        own = list(_rows(history, found, asked))
        rows += own
        adopted = next((found.bases[q.id][1] for q in history.qualifications), None)
        if adopted is not None:
            installers += _installer(history, own, asked, adopted)
    shown = {p: names.get(p, p) for p in found.histories}
    without = tuple(p for p, h in found.histories.items() if not h.qualifications)
    return People(asked, tuple(rows), tuple(installers), shown, without)


def _rows(history: History, found: Known, asked: Asked) -> Iterator[Row]:
    day = asked.days.as_of
    for qualification in history.qualifications:
        if qualification.brazed_on > day and not asked.person:
            continue  # nobody held it yet
        basis, adopted = found.bases[qualification.id]
        for employer in qualification.employers:
            if asked.employer in ("", employer):
                held = in_force(history, qualification, adopted=adopted, employer=employer)
                yield row_on(held, day, basis=basis)


def row_on(held: Held, day: date, *, basis: str = "") -> Row:
    """Return the row of one qualification on a day."""
    clocks = tuple(_clock_on(r, day) for r in held.clocks)
    spans = [c for c in clocks if c.span is not None]
    first = min(spans, key=lambda c: c.span.ends if c.span else date.max, default=None)
    every = all(c.holds for c in clocks)
    ends = first.span.ends if first and first.span and every else None
    carried: tuple[Link, ...] = ()
    if first is not None and first.holds and first.span is not None:
        carried = held.chain(day, first.reckoned)
    return Row(held, held.on(day), basis, clocks, ends, carried, held.suspended(day))


def _clock_on(reckoned: Reckoned, day: date) -> ClockOn:
    span = standing_on(reckoned.proved, day)
    if span is not None:
        return ClockOn(reckoned, span, "holds")
    before = [s for s in reckoned.proved if s.since <= day]
    return ClockOn(reckoned, before[-1] if before else None, "")


def _installer(
    history: History, rows: Iterable[Row], asked: Asked, adopted: Adopted
) -> Iterator[Finding]:
    """Yield what is said of a person as an installer, where a credential was noted or is owed."""
    if not adopted.has(CREDENTIAL):
        return
    order = (Outcome.MET, Outcome.UNDETERMINED, Outcome.NOT_MET)
    best = min(
        (r.verdict for r in rows), key=lambda v: order.index(v.before_confirmation), default=None
    )
    day = asked.days.as_of
    yield judge_installer(history.person, history.credentials, day, adopted=adopted)
    yield judge_may_braze(history.person, best, adopted=adopted)


def due_rows(people: People) -> tuple[Row, ...]:
    """Return the rows in force whose clock ends within the days asked for, the first in front."""
    asked = people.asked
    if asked.due is None:
        return ()
    until = asked.days.as_of + timedelta(days=asked.due)
    held = [r for r in people.rows if r.ends is not None and asked.days.as_of < r.ends <= until]
    alive = [r for r in held if r.verdict.before_confirmation is not Outcome.NOT_MET]
    return tuple(sorted(alive, key=lambda r: (r.ends or until, r.held.history.person)))


def _unknown(person: str, expected: str) -> BrazerUnknown:
    return BrazerUnknown(
        "nobody of this id",
        got=person,
        expected=expected or "a brazer of the cases named",
        do="Correct the id; it is written as on the record.",
    )
