"""From acts to one history a person: records, papers, uses, doubts, credentials.

Everything that was written by the day of knowledge is taken in, whenever it happened:
the intervals answer for a day, and what came after it changes no interval before it. A
signature after the day leaves it held; a doubt or a withdrawal may reach back to it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from lapwright.core.acts import Act
from lapwright.core.bodies import cleared, doubt_of
from lapwright.core.evidence import Doubt, Evidence
from lapwright.core.fold import PROGRAMME, case_stream, fold
from lapwright.core.paperfold import fold_papers
from lapwright.core.records import RecordState, record_states
from lapwright.core.standing import Standing, programme_zone, standing
from lapwright.core.times import parse_date
from lapwright.rules.continuity import Use
from lapwright.rules.decision import adopt
from lapwright.rules.qualified import (
    Acceptance,
    Attested,
    Credential,
    History,
    Qualification,
    Withdrawal,
    apart,
)
from lapwright.rules.rulebook import Adopted

from .errors import BasisUnclear
from .inforceacts import parted
from .qualifiedtests import of_paper, test_of

EVER = date.max


@dataclass(frozen=True)
class Days:
    """The day asked about, and the day by whose end an entry must have been written."""

    as_of: date
    known_by: date | None = None


@dataclass
class Known:
    """What the entries say.

    ``histories`` by person; ``bases`` the adopted editions by record or paper, with the
    case whose basis it is; ``names`` person to the commitment of the name; ``instruments``
    the doubts about instruments that stand.
    """

    histories: dict[str, History] = field(default_factory=dict)
    bases: dict[str, tuple[str, Adopted]] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)
    instruments: tuple[Doubt, ...] = ()


@dataclass
class _Person:
    """What one person's history is made of."""

    held: list[Qualification] = field(default_factory=list)
    uses: list[Use] = field(default_factory=list)
    credentials: list[Credential] = field(default_factory=list)
    late_paper: str = ""
    supplementary: str = ""


def known(
    acts: Sequence[Act], days: Days, *, payload: Callable[[str], bytes], basis: str = ""
) -> Known:
    """Fold acts into one history a person.

    Parameters
    ----------
    acts : sequence of Act
        Of the whole ledger, or all that speaks of one person, oldest first.
    days : Days
        The day asked about and that of knowledge.
    payload : callable
        Returns a kept file by its SHA-256: the data of a record issued without its tests.
    basis : str, optional
        Case whose basis stands for records from paper; else the programme's, else the
        only one there is.

    Raises
    ------
    BasisUnclear
        If records from paper are to be judged and it is not clear under which basis.
    """
    parts = parted(acts)
    zone = ""
    if days.known_by is not None:
        zone = programme_zone(parts["basis"], days.known_by)
    return _Folding(parts, days, zone, payload, _Bases(parts["basis"], days, zone, basis)).done()


class _Bases:
    """The adopted editions by stream; equal ones are one."""

    def __init__(self, acts: Sequence[Act], days: Days, zone: str, asked: str) -> None:
        self._days, self._zone, self._asked = days, zone, asked
        self._streams: dict[str, list[Act]] = {}
        for act in acts:
            self._streams.setdefault(act.stream, []).append(act)
        self._made: dict[str, tuple[str, Evidence, Adopted] | None] = {}
        self._alike: dict[str, tuple[str, Evidence, Adopted] | None] = {}

    def of(self, stream: str) -> tuple[str, Evidence, Adopted] | None:
        """Return name, evidence and editions of a stream's own basis, or None."""
        if stream not in self._streams:
            return None
        if stream not in self._made:
            own = self._streams.get(PROGRAMME, [])
            acts = [*own, *self._streams[stream]] if stream != PROGRAMME else own
            key = repr([(a.type, a.happened_on, a.recorded_at, a.body) for a in acts])
            if key not in self._alike:
                self._alike[key] = self._fold(stream, acts)
            self._made[stream] = self._alike[key]
        return self._made[stream]

    def _fold(self, stream: str, acts: Sequence[Act]) -> tuple[str, Evidence, Adopted] | None:
        days = self._days
        found = fold(acts, as_of=EVER, known_by=days.known_by, zone=self._zone)
        if found.basis is None:
            return None
        # Rules as dated on the day asked about; a rule confirmed since is confirmed.
        on = days.as_of
        whole = adopt(found)
        ticks = tuple(replace(c, on=min(c.on, on)) for c in whole.confirmations)
        return stream, found, Adopted(whole.editions, on, ticks)

    def common(self, where: str) -> tuple[str, Evidence, Adopted]:
        """Return the basis for a record from paper; see `known`."""
        if self._asked:
            choices = [self.of(case_stream(self._asked))]
        elif self.of(PROGRAMME) is not None:
            choices = [self.of(PROGRAMME)]
        else:
            choices = list({id(b): b for b in map(self.of, self._streams) if b}.values())
        if len(choices) == 1 and choices[0] is not None:
            return choices[0]
        raise BasisUnclear(
            "not clear under which basis a record from paper is judged",
            got=self._asked or f"{len(choices)} different bases",
            where=where,
            expected="one basis that the ledger holds",
            do="Name the case whose basis stands for it with --basis.",
        )


class _Folding:
    """Scratch of one fold."""

    def __init__(
        self,
        parts: dict[str, list[Act]],
        days: Days,
        zone: str,
        payload: Callable[[str], bytes],
        bases: _Bases,
    ) -> None:
        self.parts, self.days, self.zone = parts, days, zone
        self.payload, self.bases = payload, bases
        self.known = Known()
        self.people: dict[str, _Person] = {}
        self.doubts: dict[str, Doubt] = {}
        self.together: dict[str, list[Attested]] = {}

    def done(self) -> Known:
        """Return what is known."""
        people, known_by = self.parts["people"], self.days.known_by
        for stood in standing(people, as_of=EVER, known_by=known_by, zone=self.zone):
            _TAKERS[stood.act.type](self, stood)
        self._records()
        self._papers()
        of_one: dict[str, list[Doubt]] = {}
        for doubt in self.doubts.values():
            kind, _, name = doubt.about.partition(":")
            if kind != "instrument":
                of_one.setdefault(name if kind == "person" else "", []).append(doubt)
        self.known.instruments = tuple(
            d
            for d in self.doubts.values()
            if d.about.startswith("instrument:") and d.cleared_on is None
        )
        for person, made in sorted(self.people.items()):
            doubts = (*of_one.get(person, ()), *of_one.get("", ()))
            self.known.histories[person] = History(
                person,
                tuple(made.held),
                tuple(made.uses),
                doubts,
                tuple(made.credentials),
                made.late_paper,
                made.supplementary,
            )
        return self.known

    def person(self, name: str) -> _Person:
        """Return a person's scratch."""
        return self.people.setdefault(name, _Person())

    def _records(self) -> None:
        acts = self.parts["records"]
        issued = {
            (a.body["record"], a.body["revision"]): a for a in acts if a.type == "RecordIssued"
        }
        known_by = self.days.known_by
        states = record_states(acts, as_of=EVER, known_by=known_by, zone=self.zone)
        for state in states:
            if not state.replaced_by and state.signed_on is not None:
                self._record(state, issued[(state.number, state.revision)].body)

    def _record(self, state: RecordState, body: Any) -> None:
        rows, employer = body.get("tests"), body.get("employer", "")
        if rows is None:
            rows, employer = _from_payload(self.payload(state.payload_sha256))
        tests = tuple(test_of(row) for row in rows)
        if not tests:
            return
        stream, gone = case_stream(state.case), state.withdrawn
        whole = Qualification(
            id=state.number,
            person=state.person,
            employer=employer,
            process=tests[0].variables.process,
            procedures=tuple(dict.fromkeys(t.procedure for t in tests)),
            tests=tests,
            certified_on=state.certified.on if state.certified else None,
            withdrawn=Withdrawal(gone.on, gone.by, gone.reason) if gone else None,
            accepted=tuple(Acceptance(a.employer, a.by, a.on) for a in state.accepted),
            together=tuple(self.together.get(stream, ())),
            supplements=body.get("supplements", ""),
        )
        self._keep(whole, self.bases.of(stream) or self.bases.common(state.name))

    def _papers(self) -> None:
        known_by = self.days.known_by
        papers = fold_papers(self.parts["papers"], as_of=EVER, known_by=known_by, zone=self.zone)
        for paper in papers.values():
            if paper.brazed:
                basis = self.bases.common(paper.id)
                self._keep(of_paper(paper, adopted=basis[2]), basis)

    def _keep(self, whole: Qualification, basis: tuple[str, Evidence, Adopted]) -> None:
        stream, evidence, adopted = basis
        self.known.bases[whole.id] = (stream.removeprefix("case/"), adopted)
        made = self.person(whole.person)
        if evidence.basis is not None:
            made.late_paper = evidence.basis.option("late_paper")
            made.supplementary = evidence.basis.option("supplementary_coupons")
        made.held.extend(apart(whole))


def _from_payload(data: bytes) -> tuple[list[dict[str, str]], str]:
    """Judge the acts of a record's data again: its tests, and the employer that tested."""
    from .judging import judge_acts
    from .qualifiedtests import tests_of
    from .recorddata import acts_of

    kept = json.loads(data)
    judged = judge_acts(acts_of(kept), as_of=parse_date(kept["decision"]["as_of"]))
    return tests_of(judged.judgement), judged.judgement.evidence.employer


def use_of(stood: Standing) -> Use:
    """Return the use that a ``UseAttested`` act files; its paper is of the day of writing."""
    b = stood.act.body
    written = stood.first.recorded_at.date()
    return Use(stood.act.happened_on, b["process"], b["procedure"], b["by"], written)


def _use(into: _Folding, stood: Standing) -> None:
    into.person(stood.act.body["person"]).uses.append(use_of(stood))


def _doubt(into: _Folding, stood: Standing) -> None:
    act = stood.act
    if act.type == "DoubtRaised":
        named = act.body.get("doubt", "") or stood.sha256
        into.doubts[named] = replace(doubt_of(act), id=named)
    elif act.body["doubt"] in into.doubts:
        into.doubts[act.body["doubt"]] = cleared(into.doubts[act.body["doubt"]], act)


def _credential(into: _Folding, stood: Standing) -> None:
    b = stood.act.body
    noted = Credential(b["kind"], b["issuer"], parse_date(b["until"]), stood.act.happened_on)
    into.person(b["person"]).credentials.append(noted)


def _representative(into: _Folding, stood: Standing) -> None:
    """Take in the part of an employer in a joint session; one of a single employer says nothing."""
    b = stood.act.body
    if "present" in b:
        into.together.setdefault(stood.first.stream, []).append(
            Attested(
                b["employer"],
                b["person"],
                b["present"],
                b.get("compared", ""),
                tuple(b.get("attested", ())),
                dict(b.get("variables", {})),
            )
        )


def _enrolled(into: _Folding, stood: Standing) -> None:
    into.known.names[stood.act.body["person"]] = stood.act.body["name_commitment"]


_TAKERS: dict[str, Callable[[_Folding, Standing], None]] = {
    "UseAttested": _use,
    "DoubtRaised": _doubt,
    "DoubtCleared": _doubt,
    "CredentialNoted": _credential,
    "EmployerRepresentativeNamed": _representative,
    "PersonEnrolled": _enrolled,
}
