"""Who stands behind a qualification: tests, supervision, procedure and mark.

ASME BPVC IX: the organization has its own brazers tested on one of its own
qualified procedures, supervises the brazing, may buy in parts and
examinations but not the brazing (QG-106.2, before 2013 QB-300.2 and QB-301.2);
several organizations may test together (QG-106.3); each brazer has a mark
(QB-301.3). What the record states is judged in `lapwright.rules.papers`. A
finding on a record says nothing about the skill of the brazer. This module
never hands the responsibility to anyone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lapwright.core.messages import Message
from lapwright.core.names import same_name
from lapwright.core.outcomes import Finding, Subject

from .asking import Question, Ruling
from .rulebook import Adopted
from .rulings import held, met, not_met

YES_NO = ("yes", "no")
AGREED_RANGES = ("thickness", "overlap")  # a common range is agreed for these (QG-106.3)


@dataclass(frozen=True)
class Supervision:
    """Who oversaw the brazing of one coupon; ``together`` is ``yes`` in a joint session."""

    coupon: str
    brazer: str
    supervisor: str
    supervisor_employer: str
    employer: str
    together: str = ""


@dataclass(frozen=True)
class Firm:
    """One organization of a joint session: its representative and its procedure's variables."""

    name: str
    representative_present: str
    variables: Mapping[str, str]


def judge_proof(person: str, brazed_by: str, *, adopted: Adopted) -> Finding:
    """Judge whether a passed test proves this person's skill: only if this person brazed it.

    Parameters
    ----------
    person : str
        Whose skill is to be proved.
    brazed_by : str
        Who brazed the coupon of the test that is offered.
    adopted : Adopted
        The adopted editions (ASME BPVC IX 2023, QB-101).
    """
    ask = Question("proof.of_skill", Subject("person", person), adopted)
    same = brazed_by == person
    return ask.lacks(**{"brazed.by": brazed_by}) or ask.answer(
        lambda _: (
            met("proof.own", person=person)
            if same
            else not_met("proof.other", person=person, brazed_by=brazed_by, saw=brazed_by)
        )
    )


@dataclass(frozen=True)
class KeyHolder:
    """Who signed by key, as the certificate says: its holder and its SHA-256."""

    name: str
    sha256: str


def judge_signed_by_key(
    record: str, signer: KeyHolder, *, employer: str, adopted: Adopted
) -> Finding:
    """Hold a record signed by a key until somebody confirms whose key it is.

    A certificate says a name; that its holder signs for the employer that tested is known
    only from that employer itself.

    Parameters
    ----------
    record : str
        Id of the record.
    signer : KeyHolder
        Whose certificate it is by its own words.
    employer : str
        The organization that tested.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("responsibility.own_tests", Subject("record", record), adopted)
    shown = {"holder": signer.name, "sha": signer.sha256[:16], "employer": employer}
    return ask.hold(Message("responsibility.by_key", record=record, **shown), observed=signer.name)


def judge_own_tests(
    record: str, *, employer: str, signed_for_employer_by: str, adopted: Adopted
) -> Finding:
    """Judge whether an organization has accepted responsibility for a record.

    Parameters
    ----------
    record : str
        Id of the record.
    employer : str
        The organization whose brazer was tested; empty when none is named.
    signed_for_employer_by : str
        Its responsible person who signed; empty when nobody has.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("responsibility.own_tests", Subject("record", record), adopted)
    if not employer or not signed_for_employer_by:
        return ask.hold(Message("responsibility.nobody", record=record))
    return ask.answer(
        lambda _: met(
            "responsibility.accepted", record=record, employer=employer, by=signed_for_employer_by
        )
    )


def judge_supervision(given: Supervision, *, adopted: Adopted) -> Finding:
    """Judge whether the organization supervised the brazing of a coupon.

    The finding is on the record; the brazer's work is judged elsewhere.

    Parameters
    ----------
    given : Supervision
        Coupon, brazer, supervisor and the employers of both.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("responsibility.supervision", Subject("record", given.coupon), adopted)
    missing = ask.lacks(**{"brazed.supervisor": given.supervisor, "brazed.by": given.brazer})
    if missing is not None:
        return missing
    if given.supervisor == given.brazer:
        return ask.answer(
            lambda _: not_met(
                "supervision.self", coupon=given.coupon, brazer=given.brazer, saw=given.supervisor
            )
        )
    missing = ask.lacks(
        **{"people.employer": given.supervisor_employer, "employer": given.employer}
    )
    if missing is not None:
        return missing
    if not same_name(given.supervisor_employer, given.employer) and given.together != "yes":
        return ask.answer(
            lambda _: not_met(
                "supervision.foreign",
                coupon=given.coupon,
                employer=given.employer,
                other=given.supervisor_employer,
                saw=given.supervisor_employer,
                bound=given.employer,
            )
        )
    return ask.answer(
        lambda _: met("supervision.own", coupon=given.coupon, supervisor=given.supervisor)
    )


def judge_bought_in(
    record: str, activity: str, *, done_by: str, accepted: str, adopted: Adopted
) -> Finding:
    """Judge an activity that others did for the organization.

    Parameters
    ----------
    record : str
        Id of the record.
    activity : str
        ``braze``, ``parts``, ``specimens`` or ``examination``.
    done_by : str
        ``own`` or ``external``.
    accepted : str
        ``yes`` when the organization accepts the work as its own responsibility, ``no`` if not.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("responsibility.bought_in", Subject("record", record), adopted)
    unclear = ask.unclear("done_by", done_by, ("own", "external"))
    if unclear is None and done_by == "external" and activity != "braze":
        unclear = ask.unclear("accepted", accepted, YES_NO)
    if unclear is not None:
        return unclear
    return ask.answer(lambda rule: _bought(rule.value, activity, done_by, accepted))


def _bought(table: Mapping[str, str], activity: str, done_by: str, accepted: str) -> Ruling:
    allowed = table.get(activity, "")
    if not allowed:
        return held("bought_in.unknown", activity=activity, known=", ".join(table))
    if done_by == "own":
        return met("bought_in.own", activity=activity)
    if allowed != "yes":
        return not_met("bought_in.never", activity=activity, saw=done_by)
    if accepted != "yes":
        return not_met("bought_in.not_accepted", activity=activity, saw=done_by)
    return met("bought_in.accepted", activity=activity)


def judge_common_control(
    person: str, *, former: str, present: str, control_document: str, adopted: Adopted
) -> Finding:
    """Judge whether a qualification carries over between companies of one group.

    Without a document that describes the common control the present company is a new employer.

    Parameters
    ----------
    person : str
        The brazer.
    former, present : str
        The two companies.
    control_document : str
        Where the common control of brazer qualification is described; empty when nowhere.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("responsibility.common_control", Subject("person", person), adopted)
    return ask.lacks(former=former, present=present) or ask.answer(
        lambda _: (
            met("control.described", former=former, present=present, document=control_document)
            if control_document
            else not_met("control.none", former=former, present=present)
        )
    )


def judge_simultaneous(
    firms: Sequence[Firm], *, compared: str, adopted: Adopted
) -> dict[str, Finding]:
    """Judge a session in which several organizations qualify the same brazers.

    Parameters
    ----------
    firms : sequence of Firm
        The organizations with their representatives and procedure variables.
    compared : str
        ``yes`` when the procedures were compared before the session.
    adopted : Adopted
        The adopted editions.

    Returns
    -------
    dict of str to Finding
        One finding for each organization; an absent representative costs only
        that organization its qualification.
    """
    differ = _differing(firms)
    return {f.name: _one_firm(f, compared, differ, adopted) for f in firms}


def _one_firm(firm: Firm, compared: str, differ: Sequence[str], adopted: Adopted) -> Finding:
    ask = Question(
        "responsibility.simultaneous",
        Subject("organization", firm.name),
        adopted,
        also=("responsibility.simultaneous_range",),
    )
    unclear = ask.unclear("procedures compared", compared, YES_NO) or ask.unclear(
        "representative_present", firm.representative_present, YES_NO
    )
    if unclear is not None:
        return unclear
    if firm.representative_present == "no":
        return ask.answer(lambda _: not_met("together.absent", firm=firm.name))
    if compared == "no":
        return ask.answer(lambda _: not_met("together.not_compared", firm=firm.name))
    if differ:
        return ask.hold(Message("together.differ", variables=", ".join(differ)))
    return ask.answer(lambda _: met("together.present", firm=firm.name))


def _differing(firms: Sequence[Firm]) -> list[str]:
    names = sorted({name for firm in firms for name in firm.variables} - set(AGREED_RANGES))
    return [n for n in names if len({firm.variables.get(n, "") for firm in firms}) > 1]


def judge_procedure_qualified(
    procedure: str, pqrs: Sequence[str], *, for_pqr: str = "no", adopted: Adopted
) -> Finding:
    """Judge whether the test followed a qualified procedure.

    Parameters
    ----------
    procedure : str
        Id of the procedure.
    pqrs : sequence of str
        The procedure qualification records that support it.
    for_pqr : str
        ``yes`` when the coupon is itself the coupon of the procedure's own record.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("procedure.qualified_first", Subject("procedure", procedure), adopted)
    unclear = ask.unclear("for_pqr", for_pqr, YES_NO)
    if unclear is not None:
        return unclear
    if pqrs:
        return ask.answer(
            lambda _: met("procedure.supported", procedure=procedure, records=", ".join(pqrs))
        )
    if for_pqr == "yes":
        return ask.answer(lambda _: met("procedure.its_own_coupon", procedure=procedure))
    return ask.hold(Message("procedure.unsupported", procedure=procedure))


def judge_pqr_brazer(
    person: str, *, brazed_by: str, results: Mapping[str, str], adopted: Adopted
) -> Finding:
    """Judge whether the brazer of a procedure coupon is qualified by it.

    Parameters
    ----------
    person : str
        Who claims the qualification.
    brazed_by : str
        Who brazed the procedure coupon.
    results : mapping of str to str
        Each examination of the procedure record: ``passed``, ``failed`` or empty.
    adopted : Adopted
        The adopted editions. Where some specimens failed the procedure record
        fails; whether the passed sections still serve the brazer is held.
    """
    ask = Question(
        "procedure.brazer_of_pqr", Subject("person", person), adopted, also=("pqr.partly_failed",)
    )
    missing = ask.lacks(brazed_by=brazed_by, results=tuple(results), **dict(results))
    if missing is not None:
        return missing
    if brazed_by != person:
        return ask.answer(lambda _: not_met("proof.other", person=person, brazed_by=brazed_by))
    failed = sorted(name for name, result in results.items() if result != "passed")
    if not failed:
        return ask.answer(lambda _: met("pqr_brazer.qualified", person=person))
    if len(failed) < len(results):
        return ask.hold(Message("pqr_brazer.partly", person=person, failed=", ".join(failed)))
    return ask.answer(
        lambda _: not_met("pqr_brazer.failed", person=person, failed=", ".join(failed))
    )


def judge_mark(
    person: str, mark: str, *, active: Mapping[str, str], retired: Sequence[str], adopted: Adopted
) -> Finding:
    """Judge whether a mark names one person of the organization.

    Parameters
    ----------
    person : str
        The brazer.
    mark : str
        The mark.
    active : mapping of str to str
        Person to mark for the brazers of the organization.
    retired : sequence of str
        Marks of persons who have left.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("mark.unique", Subject("person", person), adopted)
    missing = ask.lacks(mark=mark)
    if missing is not None:
        return missing
    others = sorted(p for p, held_mark in active.items() if held_mark == mark and p != person)
    if others:
        return ask.answer(
            lambda _: not_met("mark.shared", mark=mark, others=", ".join(others), saw=mark)
        )
    if mark in retired:
        again = Question("mark.unique", ask.subject, adopted, also=("mark.reuse",))
        return again.hold(Message("mark.retired", mark=mark), observed=mark)
    return ask.answer(lambda _: met("mark.unique", mark=mark))
