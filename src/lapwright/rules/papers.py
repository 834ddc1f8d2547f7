"""What a performance record states, how it is certified, and whether it lies on the site.

ASME BPVC IX: variables, test type, results and ranges (QB-301.4, QG-104),
certified by signature or by another means that the quality system describes.
A state law may ask for the records at the job; other laws are not known here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Why

from .asking import Question, Ruling
from .rulebook import Adopted
from .rulings import met, not_met, word

YES_NO = ("yes", "no")


def judge_record_fields(record: str, filled: Mapping[str, str], *, adopted: Adopted) -> Finding:
    """Judge whether a record states all that it must.

    Parameters
    ----------
    record : str
        Id of the record.
    filled : mapping of str to str
        Field to text; a field that is absent or empty is missing.
    adopted : Adopted
        The adopted editions (QB-301.4, QG-104: variables, test type, results, ranges).
    """
    ask = Question("record.fields", Subject("record", record), adopted)
    return ask.answer(lambda rule: _complete(rule.value, filled, record))


def _complete(wanted: Sequence[str], filled: Mapping[str, str], record: str) -> Ruling:
    empty = [name for name in wanted if not filled.get(name)]
    if empty:
        return not_met("record.incomplete", record=record, fields=", ".join(empty))
    return met("record.complete", record=record)


def judge_certified(
    record: str, *, signature: str, described_means: str, adopted: Adopted
) -> Finding:
    """Judge whether a record is certified: by signature, or by means the quality system describes.

    Parameters
    ----------
    record : str
        Id of the record.
    signature : str
        Who signed for the organization; empty when nobody has.
    described_means : str
        Where the quality system describes another means that was used; empty when none.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("record.certified", Subject("record", record), adopted)
    by = signature or described_means
    if not by:
        return ask.missing("certification")
    return ask.answer(lambda _: met("record.certified", record=record, by=by))


def judge_site_records(
    job: str, *, jurisdiction: str, work: str, on_site: str, adopted: Adopted
) -> Finding:
    """Judge whether the certified records lie on the site where a law asks for it.

    Parameters
    ----------
    job : str
        The job.
    jurisdiction : str
        Where it is.
    work : str
        What is built, for example ``building services piping``.
    on_site : str
        ``yes`` or ``no``.
    adopted : Adopted
        The adopted editions; only the jurisdictions that they name are known.
    """
    ask = Question("record.on_site", Subject("job", job), adopted)
    missing = ask.lacks(jurisdiction=jurisdiction, work=work)
    if missing is None:
        missing = ask.unclear("on_site", on_site, YES_NO)
    return missing or ask.answer(lambda rule: _on_site(rule.value, jurisdiction, work, on_site))


def _on_site(law: Mapping[str, str], jurisdiction: str, work: str, on_site: str) -> Ruling:
    if (jurisdiction, word(work)) != (law["jurisdiction"], law["work"]):
        return Ruling(
            Outcome.UNDETERMINED,
            Message("site.unknown_law", jurisdiction=jurisdiction, work=work),
            why=Why.UNREAD,
        )
    if on_site == "no":
        return not_met("site.no_records", jurisdiction=jurisdiction)
    return met("site.records", jurisdiction=jurisdiction)
