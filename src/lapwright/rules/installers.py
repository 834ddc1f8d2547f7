"""Who may install and who may braze: a credential and a qualification are two things.

NFPA 99: installers hold the installer credential (ASSE 6010), only persons
qualified under the brazing clause braze, and the documentation is on the site
before installation starts (memory). None of these findings enters the clocks of a
qualification; each is told beside them.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why

from .asking import Question
from .qualified import Credential
from .rulebook import Adopted
from .rulings import met, not_met

CREDENTIAL, BRAZING, ON_SITE = "installer.credential", "installer.brazing", "documents.on_site"


def judge_installer(
    person: str, held: Iterable[Credential], day: date, *, adopted: Adopted
) -> Finding:
    """Judge whether a person held the installer's credential on a day.

    Parameters
    ----------
    person : str
        The person.
    held : iterable of Credential
        What was noted; the kind names the credential, such as ``installer ASSE 6010``.
    day : date
        The civil day.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(CREDENTIAL, Subject("person", person), adopted)
    wanted = [str(r.value) for r in adopted.all(CREDENTIAL) if r.value is not None]
    if not wanted:
        return ask.no_text()
    noted = tuple(held)
    own = [c for c in noted if any(_names(c.kind, w) for w in wanted)]
    shown = {"person": person, "day": day.isoformat(), "wanted": ", ".join(dict.fromkeys(wanted))}
    bare = [c.kind for c in noted if "installer" in c.kind.lower().split()]
    if not own and bare:
        return ask.needs(Message("installer.unclear", kind=bare[0], **shown), observed=bare[0])
    if not own:
        return ask.answer(lambda _: not_met("installer.none", **shown))
    best = max(own, key=lambda c: c.until)
    until = best.until.isoformat()
    if best.until < day:
        return ask.answer(lambda _: not_met("installer.ended", until=until, **shown, saw=until))
    return ask.answer(lambda _: met("installer.held", until=until, **shown, saw=until))


def _names(kind: str, wanted: str) -> object:
    """Return whether a credential's kind names the wanted one, by its number."""
    return wanted.split()[-1] in kind.replace("-", " ").split()


def judge_may_braze(person: str, best: Verdict | None, *, adopted: Adopted) -> Finding:
    """Judge whether a person may braze at all: by a qualification that is in force.

    Parameters
    ----------
    person : str
        The person.
    best : Verdict or None
        The best verdict of the person's qualifications on the day; None without any.
    adopted : Adopted
        The adopted editions. A credential does not help.
    """
    ask = Question(BRAZING, Subject("person", person), adopted)
    if best is None or best.before_confirmation is Outcome.NOT_MET:
        return ask.answer(lambda _: not_met("installer.may_not_braze", person=person))
    if best.before_confirmation is Outcome.UNDETERMINED:
        why = best.why or Why.NEEDS_DATA
        return ask.open(why, Message("installer.braze_open", person=person))
    return ask.answer(lambda _: met("installer.may_braze", person=person))


def judge_on_site(
    joint: str, brazed_on: date, documents_on: date | None, *, adopted: Adopted
) -> Finding:
    """Judge whether the documentation was on the site before a joint was brazed.

    Parameters
    ----------
    joint : str
        The joint.
    brazed_on : date
        Its braze date.
    documents_on : date or None
        Day on which procedures and brazers' records were filed on the site.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(ON_SITE, Subject("joint", joint), adopted)
    if documents_on is None:
        return ask.missing("documents_on_site")
    shown = {"joint": joint, "made": brazed_on.isoformat(), "filed": documents_on.isoformat()}
    if brazed_on < documents_on:
        return ask.answer(lambda _: not_met("installer.documents_late", **shown))
    return ask.answer(lambda _: met("installer.documents_there", **shown))
