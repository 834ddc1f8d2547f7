"""Compare a former employer's test with a new employer's procedure, and judge the acceptance.

One use case: read both sides, lay them side by side, reckon the clocks up to the
day of the signature, list the joints made before it. What nobody has confirmed
stays open; the page says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from lapwright.core.outcomes import Finding, Outcome, Verdict, combine
from lapwright.core.paperfold import AGREES
from lapwright.core.standing import standing
from lapwright.core.times import parse_date
from lapwright.ledger.gather import gather
from lapwright.ledger.log import Log
from lapwright.reference.strictyaml import read_yaml
from lapwright.rules.acceptance import (
    Asked,
    judge_clock,
    judge_equivalent,
    judge_joint_day,
    judge_left_out,
    judge_no_clock,
    judge_passed,
    judge_route,
    judge_signed,
)
from lapwright.rules.continuity import Clock, InForce, Use, clock_of
from lapwright.rules.paperstanding import (
    FORMER,
    Provenance,
    confirmation_of,
    judge_document,
    judge_paper,
    judge_provenance,
)
from lapwright.rules.recordstate import Looked, judge_not_looked_up, judge_record_state
from lapwright.rules.responsibility import judge_own_tests, judge_signed_by_key
from lapwright.rules.rulebook import Adopted, Rule
from lapwright.rules.sidebyside import Compared, SameWords, compare

from . import schema
from .comparefiles import Former, Present, of_paper, read_former, read_present
from .comparenames import Names, open_rules
from .daysfile import JointMade, read_joints, read_uses
from .errors import CompareNoteRefused, PaperDatesRefused
from .govnumbers import masked_everywhere
from .paperrecords import paper_on
from .recordlooked import look_up, look_up_case


@dataclass(frozen=True)
class Question:
    """What is asked: two files, the day of the signature, the day asked about.

    ``log`` is the ledger, where one is named: ``old`` may then be a paper's id, filed uses
    of the person count beside those of ``uses``, and a record of this program is looked up.
    """

    old: str
    new: Path
    signed_on: date
    as_of: date
    uses: Path | None = None
    joints: Path | None = None
    note: Path | None = None
    log: Log | None = None


@dataclass(frozen=True)
class Note:
    """What a person of the new employer states in writing."""

    by: str = ""
    on: date | None = None
    same: SameWords = field(default_factory=lambda: SameWords("", {}))
    same_procedures: tuple[str, ...] = ()
    confirmed: str = ""
    control_document: str = ""


@dataclass(frozen=True)
class ClockRow:
    """One edition's clock: its rule and the interval that the last use that counts left."""

    rule: Rule
    scope: str
    last: InForce | None


@dataclass(frozen=True)
class JointRow:
    """A joint by date: ``made`` before the acceptance lies outside it."""

    made: JointMade
    finding: Finding


@dataclass(frozen=True)
class Comparison:
    """Everything that was compared and judged.

    ``names`` stand behind its ids; ``open_rules`` are those that nobody has confirmed yet.
    """

    asked: Asked
    former: Former
    present: Present
    note: Note
    rows: tuple[Compared, ...]
    findings: tuple[Finding, ...]
    clocks: tuple[ClockRow, ...]
    joints: tuple[JointRow, ...]
    acceptance: Verdict
    today: Verdict
    names: Names = field(default_factory=Names)
    open_rules: tuple[Rule, ...] = ()


def run_comparison(
    question: Question, *, progress: Callable[[str], None] | None = None
) -> Comparison:
    """Compare and judge.

    Parameters
    ----------
    question : Question
        The files and days.
    progress : callable, optional
        Told before each photograph of a case is measured.

    Raises
    ------
    LapwrightError
        PAPER-007, PAPER-010 to PAPER-013 and the refusals of what is read.
    """
    present = read_present(question.new, as_of=question.as_of)
    former = _former(question, present, progress)
    note = _note(question, former)
    asked = Asked(
        former.id,
        former.person,
        former.side.employer,
        present.side.employer,
        question.signed_on,
        question.as_of,
        note.control_document,
    )
    _days(asked, former)
    adopted = present.adopted
    names = _names(question, former, present)
    rows = compare(former.side, present.side, stated=note.same, adopted=adopted)
    clock = _clock(question, former, present, note)
    looked = _looked(question, former)
    findings = [judge_route(asked, adopted=adopted), *_paper(former, note, present, looked)]
    findings += _standing(question, former, note, looked)
    if adopted.has(FORMER):
        findings.append(judge_equivalent(asked, rows, adopted=adopted))
    findings += _clock_findings(asked, former, clock, adopted)
    findings = [names.shown(f) for f in findings]
    rows = tuple(replace(r, finding=names.shown(r.finding)) for r in rows)
    acceptance = combine([*findings, *(r.finding for r in rows)])
    signed = [names.shown(judge_signed(asked, adopted=adopted))] if adopted.has(FORMER) else []
    every = [*acceptance.findings, *signed]
    return Comparison(
        asked=asked,
        former=former,
        present=present,
        note=note,
        rows=rows,
        findings=(*findings, *signed),
        clocks=tuple(_clocks(clock, present)),
        joints=tuple(_joints(question, asked, acceptance, present)),
        acceptance=acceptance,
        today=combine(every),
        names=names,
        open_rules=open_rules(every, adopted),
    )


def _names(question: Question, former: Former, present: Present) -> Names:
    return Names(former.names, present.names, question.log, former.id, former.number)


def _former(question: Question, present: Present, progress: Callable[[str], None] | None) -> Former:
    if question.log is not None and not Path(question.old).exists():
        paper = paper_on(question.log, question.old, as_of=question.as_of)
        return of_paper(paper, present.under, f"paper {paper.id} of the ledger")
    return read_former(
        Path(question.old), as_of=question.as_of, under=present.under, progress=progress
    )


def _note(question: Question, former: Former) -> Note:
    if question.note is None:
        return Note()
    where = question.note.name
    doc: Any = masked_everywhere(schema.check(read_yaml(question.note), "acceptance", where=where))
    on = parse_date(doc["on"], where=f"{where}: on")
    confirmed = doc.get("confirmed", {})
    sent = parse_date(confirmed["on"], where=f"{where}: confirmed.on") if confirmed else on
    if (
        on > min(question.signed_on, question.as_of)
        or sent > on
        or _same_person(doc["by"], former.person)
    ):
        raise CompareNoteRefused(
            "a note that states nothing for this acceptance",
            got=f"by {doc['by']}, on {on}",
            where=where,
            expected=f"another person than {former.person or 'the brazer'}, on "
            f"{min(question.signed_on, question.as_of)} or earlier, and not before what it tells",
            do="Whoever signs for the new employer writes the note before signing.",
        )
    return Note(
        doc["by"],
        on,
        SameWords(doc["by"], doc.get("equivalent", {})),
        tuple(doc.get("same_procedures", ())),
        f"{confirmed['how']}, {confirmed['on']}" if confirmed else "",
        doc.get("control_document", ""),
    )


def _same_person(one: str, other: str) -> str:
    return one if one.casefold() == other.casefold() else ""


def _days(asked: Asked, former: Former) -> None:
    every = (*former.brazed, *(day for _, day in former.left_out))
    first = min(every, default=asked.signed_on)
    if asked.signed_on < first:
        raise PaperDatesRefused(
            "an acceptance before the test itself",
            got=f"signed on {asked.signed_on}",
            where=former.id,
            expected=f"{first} or later",
            do="Correct --signed-on, or the braze date of the paper.",
        )


def _looked(question: Question, former: Former) -> tuple[Looked, ...]:
    """Return what the ledger holds of a record of this program, or of those of a case."""
    if question.log is None or former.verdict is None:
        return ()
    day = question.as_of
    if former.record is not None:
        found = look_up(question.log, former.record, as_of=day)
        return (found,) if found.today is not None else ()
    return look_up_case(question.log, former.id, former.person, as_of=day)


def _standing(
    question: Question, former: Former, note: Note, looked: tuple[Looked, ...]
) -> Iterator[Finding]:
    """Yield whether the record still stands on the day asked about, or that nobody could look."""
    if former.verdict is None:
        return
    for each in looked:
        yield from judge_record_state(each, question.as_of)
    if not looked:
        file = former.record
        yield judge_not_looked_up(
            f"{file.number}-r{file.revision}" if file else former.id,
            employer=former.side.employer,
            confirmed=note.confirmed,
            ledger="named" if question.log is not None else "",
        )


def _paper(
    former: Former, note: Note, present: Present, looked: tuple[Looked, ...]
) -> list[Finding]:
    """Judge the paper by itself; a note that tells of a confirmation stands in for an entry."""
    adopted, paper = present.adopted, former.paper
    told = _told(former, note)
    if paper is not None and (confirmation_of(paper) or not note.confirmed):
        return list(judge_paper(paper, adopted=adopted))
    found = [judge_provenance(told, adopted=adopted)]
    if paper is not None:
        own = [f for f in judge_paper(paper, adopted=adopted) if f.rule != found[0].rule]
        return [*own[:1], *found, *own[1:]]
    if former.verdict is not None and adopted.has("responsibility.own_tests"):
        found.append(_signed(former, note, looked, adopted))
    if adopted.has(FORMER):
        found.insert(0, judge_document(former.id, former.document, adopted=adopted))
        if former.verdict is not None:
            positions = former.side.words.get("positions", ())
            found.append(judge_passed(former.id, former.verdict, positions, adopted=adopted))
    return found


def _signed(former: Former, note: Note, looked: tuple[Looked, ...], adopted: Adopted) -> Finding:
    """Judge who took responsibility for the test; a signature in ink is seen in the ledger only."""
    employer, signer = former.side.employer, former.signer
    known = note.confirmed or any(x.state and x.state.certified for x in looked)
    if signer is not None and not known:
        return judge_signed_by_key(former.id, signer, employer=employer, adopted=adopted)
    by = (signer.name if signer else employer) if known else ""
    return judge_own_tests(former.id, employer=employer, signed_for_employer_by=by, adopted=adopted)


def _told(former: Former, note: Note) -> Provenance:
    way = former.paper.way if former.paper else ""
    answer = AGREES if note.confirmed else ""
    return Provenance(former.id, former.side.employer, way, answer, note.confirmed, note.by)


def _clock(question: Question, former: Former, present: Present, note: Note) -> Clock:
    uses = list(read_uses(question.uses)) if question.uses else []
    if question.log is not None and former.person:
        uses += _filed_uses(question.log, former.person, question.as_of)
    return Clock(
        person=former.person,
        brazed=former.brazed,
        process=former.process,
        procedures=(*former.procedures, present.side.procedure, *note.same_procedures),
        uses=tuple(u for u in uses if u.on <= question.as_of),
        late_paper=present.basis.option("late_paper"),
    )


def _clock_findings(
    asked: Asked, former: Former, clock: Clock, adopted: Adopted
) -> Iterator[Finding]:
    """Yield what the clocks say: they start on the braze dates of coupons that passed."""
    if former.verdict is not None and not former.brazed:
        yield judge_no_clock(asked, former.verdict, adopted=adopted)
        return
    yield from judge_clock(asked, clock, adopted=adopted)
    for coupon, brazed_on in former.left_out:
        yield judge_left_out(asked, coupon, brazed_on, adopted=adopted)


def _filed_uses(log: Log, person: str, as_of: date) -> list[Use]:
    """Return the uses of a person that the ledger holds."""
    gathered = (e.act for e in gather(log, f"person:{person}"))
    filed = [s for s in standing(gathered, as_of=as_of) if s.act.type == "UseAttested"]
    return [
        Use(
            s.act.happened_on,
            s.act.body["process"],
            s.act.body["procedure"],
            s.act.body["by"],
            s.first.recorded_at.date(),
        )
        for s in filed
        if s.act.body["person"] == person
    ]


def _clocks(clock: Clock, present: Present) -> list[ClockRow]:
    adopted = present.adopted
    found = []
    for rule in (r for r in adopted.all("continuity.max_gap") if r.value is not None):
        scope = next(
            (r.value for r in adopted.all("continuity.scope") if r.code == rule.code), "procedure"
        )
        spans = clock_of(clock, rule, adopted=adopted)
        found.append(ClockRow(rule, scope or "procedure", spans[-1] if spans else None))
    return found


def _joints(question: Question, asked: Asked, stands: Verdict, present: Present) -> list[JointRow]:
    if question.joints is None or not present.adopted.has(FORMER):
        return []
    made = [
        j
        for j in read_joints(question.joints)
        if j.person in ("", asked.person) and j.brazed_on <= question.as_of
    ]
    return [
        JointRow(
            j,
            judge_joint_day(asked, j.joint, j.brazed_on, stands=stands, adopted=present.adopted),
        )
        for j in sorted(made, key=lambda j: (j.brazed_on, j.joint))
    ]


def outside(comparison: Comparison) -> tuple[JointRow, ...]:
    """Return the joints that were made before the acceptance."""
    return tuple(r for r in comparison.joints if r.made.brazed_on < comparison.asked.signed_on)


def needs_a_test(comparison: Comparison) -> tuple[Finding, ...]:
    """Return the findings that no paper can mend."""
    return tuple(
        f for f in comparison.acceptance.findings if f.before_confirmation is Outcome.NOT_MET
    )
