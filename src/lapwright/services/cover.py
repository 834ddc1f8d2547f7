"""Cover of a job: its joint classes by the people who hold something, on a day or two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from lapwright.core.outcomes import Finding, Outcome
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log
from lapwright.rules.cover import Cover
from lapwright.rules.coverparts import FAILED, MET, STRICT, Answer, JointClass

from .coverpeople import Brazer, Holders, Progress, holders_of_cases, holders_of_log
from .errors import CoverDaysRefused
from .inforce import Asked
from .inforcefold import Days
from .jointclasses import ClassRows, class_findings, classes_of
from .jointlist import JointList

CLOSEST = 24
ASSIGN, CALL, NO = "assign", "call", "do-not-assign"


@dataclass(frozen=True)
class Question:
    """What is asked: the day, what was known by when, a later day, the employer."""

    as_of: date
    known_by: date | None = None
    later: date | None = None
    employer: str = ""
    basis: str = ""

    def asked(self) -> Asked:
        """Return it as the question of what is in force; refuse a later day that is none.

        Raises
        ------
        CoverDaysRefused
        """
        if self.later is not None and self.later <= self.as_of:
            raise CoverDaysRefused(
                "a later day that does not lie after the day of the cover",
                got=self.later.isoformat(),
                expected=f"a day after {self.as_of.isoformat()}",
                do="Name a later day with --if-nobody-brazes-until.",
            )
        days = Days(self.as_of, self.known_by)
        return Asked(days, employer=self.employer, basis=self.basis)


@dataclass(frozen=True)
class JobCover:
    """The answer: classes, people, the cells, what is said of joints whoever brazes them."""

    question: Question
    joints: JointList
    classes: tuple[ClassRows, ...]
    holders: Holders
    now: Cover
    later: Cover | None
    about: tuple[tuple[Finding, ...], ...]

    @property
    def brazers(self) -> tuple[Brazer, ...]:
        """The people, in the order of the columns."""
        return self.holders.brazers

    def answer(self, brazer: Brazer, line: int) -> Answer:
        """Return one cell with its reason."""
        return self.now.answer(brazer.id, line)

    def assign(self, brazer: Brazer, line: int) -> str:
        """Return the foreman's word of a cell: ``assign``, ``call`` or ``do-not-assign``.

        The stricter answer of a conflict is acted on. A joint that is itself open or refused,
        and a person whose installer credential is not shown, turn an Assign into a Call.
        """
        state = self.now.state(brazer.id, line)
        if state in (STRICT, FAILED):
            return NO
        settled = all(f.outcome is Outcome.MET for f in (*self.about[line], *brazer.install))
        return ASSIGN if state == MET and settled else CALL

    def lost(self, brazer: Brazer) -> tuple[int, ...]:
        """Return the lines that a person covers now and no longer on the later day."""
        if self.later is None:
            return ()
        lines = range(len(self.classes))
        now, then = self.now.states(brazer.id)[0], self.later.states(brazer.id)[0]
        return tuple(i for i in lines if not now >> i & 1 and then >> i & 1)

    def uncovered(self) -> tuple[int, ...]:
        """Return the lines that nobody covers."""
        best = (1 << len(self.classes)) - 1
        for b in self.brazers:
            best &= self.now.states(b.id)[0]
        return tuple(i for i in range(len(self.classes)) if best >> i & 1)

    def nearest(self, line: int) -> Answer:
        """Return the answer of who comes nearest to a line: fewest failing, least excess.

        Of many people in one state the first `CLOSEST` are compared; a reason takes a millisecond.
        """
        best = min(self.now.state(b.id, line) for b in self.brazers)
        close = [b for b in self.brazers if self.now.state(b.id, line) == best][:CLOSEST]
        cells = [self.answer(b, line) for b in close]
        return min(cells, key=lambda c: (len(c.lacks), sum(k.by for k in c.lacks)))


def cover_of_log(joints: JointList, log: Log, files: FileStore, *, question: Question) -> JobCover:
    """Return the cover of a job by a ledger.

    Parameters
    ----------
    joints : JointList
        The joints of the job.
    log, files : Log, FileStore
        The ledger and its files.
    question : Question
        What is asked.

    Raises
    ------
    LapwrightError
        ``CoverNobody``, ``CoverEmployers``, ``CoverDaysRefused``, or what reading refuses.
    """
    return _cover(joints, holders_of_log(log, files, question.asked()), question)


def cover_of_cases(
    joints: JointList,
    folders: Sequence[Path],
    *,
    question: Question,
    progress: Progress | None = None,
) -> JobCover:
    """Return the cover that case folders would give; they hold no certification, so none is Met.

    Parameters
    ----------
    joints : JointList
        The joints of the job.
    folders : sequence of Path
        The case folders.
    question : Question
        What is asked.
    progress : callable, optional
        Told before each photograph is measured.
    """
    holders = holders_of_cases(folders, question.asked(), progress=progress)
    return _cover(joints, holders, question)


def _cover(joints: JointList, holders: Holders, question: Question) -> JobCover:
    classes = classes_of(joints)
    lines = tuple(c.about for c in classes)
    later = question.later
    about = tuple(tuple(class_findings(c, adopted=holders.adopted)) for c in classes)
    now = _on(lines, holders, question.as_of)
    then = _on(lines, holders, later) if later is not None else None
    return JobCover(question, joints, classes, holders, now, then, about)


def _on(lines: tuple[JointClass, ...], holders: Holders, day: date) -> Cover:
    held, unread = holders.on(day)
    return Cover(lines, held, holders.procedures, unread)
