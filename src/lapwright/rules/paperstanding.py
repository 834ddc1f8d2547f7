"""What a record from paper is worth: its kind, where it came from, who has compared it.

A record that a former employer's brazer brings along is held until the employer
that tested confirms it (house rule). A typed record counts after another person
has compared it with its scan. A card says that a record exists and is none
(NFPA 99: the new employer obtains a copy of the test record).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why
from lapwright.core.paperfold import AGREES, PaperCheck, PaperRecord, latest

from .asking import Question
from .procedure import judge_base_standard, judge_topics
from .responsibility import judge_own_tests
from .rulebook import Adopted
from .rulings import met, not_met

TEST_RECORD, CARD = "test-record", "card"
BRAZER, EMPLOYER, OWN = "brazer", "employer", "own-archive"
FORMER, PROVENANCE, CHECKED = "record.former_employer", "former.record", "paper.checked"


@dataclass(frozen=True)
class Provenance:
    """How a record came here, and the answer of the employer that tested, if it was asked.

    ``way`` is ``brazer``, ``employer`` or ``own-archive``; ``answer`` is ``agrees``,
    ``differs`` or empty; ``evidence`` says where the answer lies; ``told_by`` who filed it.
    ``worthless`` says why a confirmation that was filed proves nothing: see `worth_nothing`.
    """

    record: str
    employer: str
    way: str
    answer: str = ""
    evidence: str = ""
    told_by: str = ""
    worthless: str = ""


def judge_document(record: str, document: str, *, adopted: Adopted) -> Finding:
    """Judge whether what is offered is a test record at all.

    Parameters
    ----------
    record : str
        Id of the paper.
    document : str
        ``test-record`` or ``card``.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(FORMER, Subject("record", record), adopted)
    unclear = ask.unclear("document", document, (TEST_RECORD, CARD))
    if unclear is not None:
        return unclear
    if document == CARD:
        return ask.answer(lambda _: not_met("paper.card", record=record, saw=document))
    return ask.answer(lambda _: met("paper.test_record", record=record, saw=document))


def judge_provenance(given: Provenance, *, adopted: Adopted) -> Finding:
    """Judge where a record came from: through the brazer it is held until it is confirmed.

    Parameters
    ----------
    given : Provenance
        The way and the employer's answer.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question(PROVENANCE, Subject("record", given.record), adopted)
    shown = {"record": given.record, "employer": given.employer}
    if given.answer and given.answer != AGREES:
        return ask.hold(Message("paper.not_confirmed", **shown), observed=given.answer)
    if given.answer and given.evidence:
        return ask.answer(
            lambda _: met("paper.confirmed", **shown, evidence=given.evidence, by=given.told_by)
        )
    unclear = ask.unclear("provenance.way", given.way, (BRAZER, EMPLOYER, OWN))
    if unclear is not None:
        return unclear
    if given.way == BRAZER and given.worthless:
        told = Message(f"paper.confirmed_by.{given.worthless}", by=given.told_by, **shown)
        return ask.hold(told, observed=given.way)
    if given.way == BRAZER:
        return ask.hold(Message("paper.through_brazer", **shown), observed=given.way)
    if given.way == EMPLOYER:
        return ask.answer(lambda _: met("paper.from_employer", **shown, saw=given.way))
    return ask.answer(lambda _: met("paper.own_archive", record=given.record, saw=given.way))


def provenance_of(paper: PaperRecord) -> Provenance:
    """Return the provenance of a paper record with the answer of the employer that tested."""
    answer, last = confirmation_of(paper), latest(paper.confirmations)
    if answer is None:
        by = last.by if last else ""
        why = worth_nothing(last, paper) if last else ""
        return Provenance(paper.id, paper.employer, paper.way, told_by=by, worthless=why)
    evidence = ", ".join(f[:12] for f in answer.files)
    return Provenance(paper.id, paper.employer, paper.way, answer.outcome, evidence, answer.by)


def confirmation_of(paper: PaperRecord) -> PaperCheck | None:
    """Return the latest answer of the employer that tested that is worth something.

    A doubt needs no proof: an answer that the record is wrong counts whoever filed it.
    """
    own = [c for c in paper.confirmations if c.outcome != AGREES or not worth_nothing(c, paper)]
    return latest(own)


def worth_nothing(check: PaperCheck, paper: PaperRecord) -> str:
    """Return why a confirmation proves nothing, empty where it may.

    ``brazer``: its own brazer filed it, or somebody enrolled as a brazer only. ``nobody``:
    who filed it is enrolled nowhere. ``own_scan``: it brings nothing but the paper itself.

    Parameters
    ----------
    check : PaperCheck
        An answer in the name of the employer that tested.
    paper : PaperRecord
        The record.
    """
    if check.by.casefold() == paper.person.casefold() or is_brazer(check.role):
        return "brazer"
    if not check.role:
        return "nobody"
    return "" if set(check.files) - set(paper.files) else "own_scan"


def is_brazer(role: str) -> str:
    """Return the role where it is that of a brazer, else empty text."""
    return role if BRAZER in role.casefold().split() else ""


def judge_compared(paper: PaperRecord, *, adopted: Adopted) -> Finding:
    """Judge whether another person has compared a typed record with its scan.

    Parameters
    ----------
    paper : PaperRecord
        The record with its checks.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    ask = Question(CHECKED, Subject("record", paper.id), adopted)
    look = paper.comparison
    if look is None:
        return ask.hold(Message("paper.unchecked", record=paper.id, typed_by=paper.typed_by))
    shown = {"record": paper.id, "by": look.by, "on": look.on.isoformat()}
    if look.outcome != AGREES:
        remark = look.remark or "–"
        return ask.hold(
            Message("paper.typed_wrongly", **shown, remark=remark), observed=look.outcome
        )
    if look.by in paper.writers:
        return ask.hold(Message("paper.checked_by_own", **shown), observed=look.by)
    return ask.answer(lambda _: met("paper.checked", **shown, saw=look.outcome))


def judge_paper(paper: PaperRecord, *, adopted: Adopted) -> Iterator[Finding]:
    """Yield every finding on what a paper record is worth by itself.

    Parameters
    ----------
    paper : PaperRecord
        The record with its checks.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    if adopted.has(FORMER):
        yield judge_document(paper.id, paper.document, adopted=adopted)
    yield judge_provenance(provenance_of(paper), adopted=adopted)
    yield judge_compared(paper, adopted=adopted)
    if paper.document == CARD:
        return
    if adopted.has("responsibility.own_tests"):
        signed = paper.employer if paper.body.get("signed_for_employer") == "yes" else ""
        yield judge_own_tests(
            paper.id, employer=paper.employer, signed_for_employer_by=signed, adopted=adopted
        )
    if adopted.has("base.standards"):
        yield _base(paper, adopted)
    yield from judge_results(paper, adopted=adopted)
    if adopted.has("record.topics"):
        yield _topics(paper, adopted)


def judge_results(paper: PaperRecord, *, adopted: Adopted) -> Iterator[Finding]:
    """Yield what the paper says of the test's own results: a failed one proves nothing.

    Parameters
    ----------
    paper : PaperRecord
        The record; ``results`` holds each examination with ``passed``, ``failed`` or
        ``not-stated``, and ``oxide`` with ``none``, ``seen`` or ``not-stated``.
    adopted : Adopted
        The adopted editions.
    """
    results = dict(paper.body.get("results", {}))
    oxide = results.pop("oxide", "")
    subject = Subject("record", paper.id)
    if adopted.has("record.fields"):
        yield _results(Question("record.fields", subject, adopted), results)
    if adopted.has("bore.no_oxide") and oxide == "seen":
        ask = Question("bore.no_oxide", subject, adopted)
        yield ask.answer(lambda _: not_met("paper.oxide", record=paper.id, saw=oxide))


def _results(ask: Question, results: Mapping[str, str]) -> Finding:
    stated = {name: got for name, got in results.items() if got in ("passed", "failed")}
    failed = sorted(name for name, got in stated.items() if got == "failed")
    if failed:
        names = ", ".join(failed)
        return ask.answer(lambda _: not_met("paper.failed", results=names, saw=names))
    destructive = stated.keys() - {"visual"}
    if "visual" not in stated or not destructive:
        return ask.missing("results.visual" if "visual" not in stated else "results.section")
    names = ", ".join(sorted(stated))
    return ask.answer(lambda _: met("paper.passed", results=names, saw=names))


def _topics(paper: PaperRecord, adopted: Adopted) -> Finding:
    """Judge the papers; an incomplete one holds the work and does not undo the braze."""
    subject, filled = Subject("record", paper.id), documented(paper.body)
    found = judge_topics("record.topics", subject, filled, adopted=adopted)
    if found.outcome is not Outcome.NOT_MET:
        return found
    return replace(found, outcome=Outcome.UNDETERMINED, why=Why.HOLD, computed=None)


def documented(body: Mapping[str, object]) -> dict[str, str]:
    """Return the topics that NFPA 99 wants on a record, with what a typed paper says of each."""
    said = body.get("variables", {})
    v: Mapping[str, object] = said if isinstance(said, Mapping) else {}
    looks = body.get("results", {})
    oxide = looks.get("oxide", "") if isinstance(looks, Mapping) else ""
    gas, flow = str(v.get("purge_gas", "")), str(v.get("purge_flow", ""))
    metals = v.get("p_numbers", ())
    return {
        "filler": str(v.get("filler", "") or v.get("f_number", "")),
        "base-metals": ", ".join(metals) if isinstance(metals, list | tuple) else str(metals),
        "cleaning": str(v.get("cleaning", "")),
        "clearance": str(v.get("clearance", "")),
        "overlap": str(v.get("overlap", "")),
        "purge-gas-and-flow": f"{gas}, {flow}" if gas and flow else "",
        "no-internal-oxidation": "" if oxide == "not-stated" else str(oxide),
    }


def _base(paper: PaperRecord, adopted: Adopted) -> Finding:
    """Judge the standard that a paper names; the first that is accepted speaks for it."""
    codes = [str(c).split()[0] for c in paper.body.get("codes", ())]
    rule = adopted.first("base.standards")
    known = [c for c in codes if c in (rule.value or ())]
    return judge_base_standard(paper.id, (known or codes or [""])[0], adopted=adopted)
