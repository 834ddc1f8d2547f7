"""Who holds what on a day, with the passed joints behind it: from a ledger or from case folders."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from lapwright.core.evidence import Procedure
from lapwright.core.fold import case_stream, fold
from lapwright.core.outcomes import Finding, Outcome
from lapwright.core.standing import programme_zone
from lapwright.ledger.files import FileStore
from lapwright.ledger.log import Log
from lapwright.rules.coverparts import HeldOn
from lapwright.rules.decision import Judgement, adopt, judge_evidence
from lapwright.rules.qualified import RECORD, History
from lapwright.rules.rulebook import Adopted

from .bearing import bearing_acts
from .casestream import in_street_order
from .errors import CaseIdTwice, CoverEmployers, CoverNobody
from .inforce import Asked, People, Row, answer, in_force_of_log
from .inforcefold import Known
from .register import record_stream

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Brazer:
    """A person on the day: ``ends`` is the first day without any qualification held now.

    ``install`` are the findings on the person as an installer.
    """

    id: str
    name: str
    mark: str
    ends: date | None
    install: tuple[Finding, ...] = ()

    @property
    def shown(self) -> str:
        """Name and mark, as far as they are known."""
        return " · ".join(dict.fromkeys(t for t in (self.name, self.mark) if t))


@dataclass(frozen=True)
class Holders:
    """Everybody with a qualification, and the judged cases behind them, by qualification."""

    people: People
    judged: Mapping[str, Judgement]
    brazers: tuple[Brazer, ...]
    employer: str
    adopted: Adopted
    procedures: Mapping[str, Procedure] = field(default_factory=dict)

    def on(self, day: date) -> tuple[tuple[HeldOn, ...], dict[str, str]]:
        """Return what is held on a day if nobody brazes after the day of the entries.

        Parameters
        ----------
        day : date
            The day asked about, or a later one.

        Returns
        -------
        tuple
            Qualifications with their range, and person to those whose range is not known.
        """
        held: list[HeldOn] = []
        unread: dict[str, list[str]] = {}
        same: dict[object, Adopted] = {}
        for row in self.people.rows:
            q = row.held.qualification
            gates = {p: tuple(row.held.findings(day, position=p)) for p in q.positions}
            made = self._held(row, gates, same)
            if made is not None:
                held.append(made)
            elif any(_open(found) for found in gates.values()):
                unread.setdefault(q.person, []).append(q.id)
        return tuple(held), {p: ", ".join(dict.fromkeys(ids)) for p, ids in unread.items()}

    def _held(
        self, row: Row, gates: Mapping[str, tuple[Finding, ...]], same: dict[object, Adopted]
    ) -> HeldOn | None:
        q = row.held.qualification
        judgement = self.judged.get(q.id)
        if judgement is None or judgement.evidence.basis is None:
            return None
        coupons = {t.coupon for t in q.tests}
        mine = [t for t in judgement.tests if t.coupon in coupons and t.position in q.positions]
        if not mine:
            return None
        adopted = row.held.adopted
        key = (tuple((e.code, e.edition) for e in adopted.editions), adopted.confirmations)
        return HeldOn(
            id=q.id,
            person=q.person,
            tests=tuple(mine),
            basis=judgement.evidence.basis,
            procedure=judgement.evidence.procedure,
            adopted=same.setdefault((key, adopted.on), adopted),
            gates=gates,
        )


def _open(found: Sequence[Finding]) -> int:
    return bool(found) and all(f.outcome is not Outcome.NOT_MET for f in found)


def holders_of_log(log: Log, files: FileStore, asked: Asked) -> Holders:
    """Return who holds what by a ledger.

    Parameters
    ----------
    log, files : Log, FileStore
        The ledger and its files.
    asked : Asked
        Day, day of knowledge, employer.

    Raises
    ------
    CoverNobody, CoverEmployers, BasisUnclear
    """
    people = in_force_of_log(log, files, asked)
    records = {q.id for r in people.rows if (q := r.held.qualification).source == RECORD}
    judged: dict[str, Judgement] = {}
    for record in sorted(records):
        judgement = _judge(log, _case_of(log, record), asked)
        if judgement is not None:
            judged[record] = judgement
    return _holders(people, judged)


def _case_of(log: Log, record: str) -> str:
    """Return the case that a record was issued for; equal bases of cases are one, cases are not."""
    issued = (e.act for e in log.entries(stream=record_stream(record)))
    return next((str(a.body["case"]) for a in issued if a.type == "RecordIssued"), "")


def _judge(log: Log, case: str, asked: Asked) -> Judgement | None:
    """Judge a case as its entries stand on the day: what was corrected since moves its range."""
    days = asked.days
    acts = tuple(e.act for e in log.entries(stream=case_stream(case)))
    if not acts:
        return None
    every = (*in_street_order(acts, acts), *bearing_acts(log, acts))
    zone = programme_zone(every, days.known_by) if days.known_by is not None else ""
    evidence = fold(every, as_of=days.as_of, known_by=days.known_by, zone=zone)
    return judge_evidence(evidence, adopted=adopt(evidence))


def holders_of_cases(
    folders: Sequence[Path], asked: Asked, *, progress: Progress | None = None
) -> Holders:
    """Return who would hold what by case folders, which know no uses and no certification.

    Parameters
    ----------
    folders : sequence of Path
        The case folders.
    asked : Asked
        Day and employer.
    progress : callable, optional
        Told before each photograph is measured.

    Raises
    ------
    CaseIdTwice, CoverNobody, CoverEmployers
        Also whatever opening a folder refuses.
    """
    from .judging import judge_case
    from .qualifiedtests import of_case

    found = Known()
    names: dict[str, str] = {}
    judged: dict[str, Judgement] = {}
    for folder in folders:
        case = judge_case(folder, as_of=asked.days.as_of, progress=progress)
        judgement = case.judged.judgement
        evidence = judgement.evidence
        if evidence.case in judged:
            raise _twice(evidence.case, folder)
        judged[evidence.case] = judgement
        found.bases[evidence.case] = (evidence.case, judgement.adopted)
        names |= case.loaded.names
        before = found.histories.get(evidence.brazer, History(evidence.brazer, ()))
        held = (*before.qualifications, *of_case(judgement))
        found.histories[evidence.brazer] = replace(before, qualifications=held)
    return _holders(answer(found, asked, names), judged)


def _twice(case: str, folder: Path) -> CaseIdTwice:
    return CaseIdTwice(
        "two folders of one case",
        got=case,
        where=str(folder),
        expected="every case once",
        do="Leave one of them out.",
    )


def _holders(people: People, judged: Mapping[str, Judgement]) -> Holders:
    if not people.rows:
        raise CoverNobody(
            "nobody with a qualification",
            got="no record, no paper and no passed case",
            expected="at least one on or before the day asked about",
            do="Name another day, or other sources.",
        )
    served = sorted({r.held.employer for r in people.rows})
    if len(served) > 1:
        raise CoverEmployers(
            "several employers are served",
            got=", ".join(served),
            expected="one, named with --employer",
            do="A record serves only whom it was made for or who accepted it: name the employer.",
        )
    procedures = {
        j.evidence.procedure.id: j.evidence.procedure
        for j in judged.values()
        if j.evidence.procedure
    }
    adopted = people.rows[0].held.adopted
    return Holders(people, judged, tuple(_brazers(people, judged)), served[0], adopted, procedures)


def _brazers(people: People, judged: Mapping[str, Judgement]) -> Iterator[Brazer]:
    for person in dict.fromkeys(r.held.history.person for r in people.rows):
        own = [r for r in people.rows if r.held.history.person == person]
        ids = [r.held.qualification.id for r in own]
        marks = [judged[i].evidence.mark for i in ids if i in judged]
        ends = [r.ends for r in own if r.ends is not None]
        install = tuple(f for f in people.installers if f.subject.id == person)
        name = people.names.get(person, person)
        mark = next((m for m in marks if m), "")
        yield Brazer(person, name, mark, max(ends, default=None), install)
