"""Cutting and cleaning before brazing: how it was cut, with what it was cleaned, how long ago.

NFPA 99, joints of medical-gas piping (5.1.10.4; paragraphs per edition as the
rule files say): square cut, no steel wool or sand cloth, a contaminated inside
cleaned again, brazing within eight hours. Nothing is inferred from a silent log.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

from lapwright.core.outcomes import Finding, Subject
from lapwright.core.quantities import Quantity
from lapwright.core.times import hours_between

from .asking import Question, Ruling
from .rulebook import Adopted, Rule
from .rulings import met, needed, not_met, word

YES_NO = ("yes", "no")


@dataclass(frozen=True)
class CleaningLog:
    """What the log says of cutting and cleaning one coupon or joint.

    ``used`` are the things it was cleaned with; ``cut`` and ``inside`` map an
    item of the rule to ``yes`` or ``no``; ``inside`` counts only where the
    inside was contaminated.
    """

    cleaned_at: datetime | None = None
    brazed_at: datetime | None = None
    used: tuple[str, ...] = ()
    cut: Mapping[str, str] = field(default_factory=dict)
    inside: Mapping[str, str] = field(default_factory=dict)


def judge_clock(
    subject: Subject, cleaned_at: datetime | None, brazed_at: datetime | None, *, adopted: Adopted
) -> Finding:
    """Judge the time from cleaning to brazing; the last minute of the limit is in time.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    cleaned_at, brazed_at : datetime or None
        Instants with their offset.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question("cleaning.max_hours", subject, adopted)
    missing = ask.lacks(**{"cleaning.at": cleaned_at, "brazed.started": brazed_at})
    if missing is not None or cleaned_at is None or brazed_at is None:
        return missing or ask.missing("cleaning.at")
    return ask.answer(lambda rule: _clock(rule, hours_between(cleaned_at, brazed_at)))


def _clock(rule: Rule, passed: timedelta) -> Ruling:
    limit = Quantity.parse(rule.value, "duration", where=rule.key)
    seconds = Fraction(passed // timedelta(microseconds=1), 10**6)
    shown = {"hours": _hours(passed), "limit": limit.text}
    if seconds < 0:
        return needed("cleaning.before", **shown)
    if seconds <= limit.base:
        return met("cleaning.in_time", saw=shown["hours"], bound=f"<= {limit.text}", **shown)
    return not_met("cleaning.too_late", saw=shown["hours"], bound=f"<= {limit.text}", **shown)


def _hours(passed: timedelta) -> str:
    minutes = Decimal(passed // timedelta(seconds=1)) / 60
    return f"{abs(minutes) // 60} h {abs(minutes) % 60:02.0f} min"


def judge_abrasive(subject: Subject, used: Sequence[str], *, adopted: Adopted) -> Finding:
    """Judge what the tube end was cleaned with.

    Parameters
    ----------
    subject : Subject
        The coupon or joint.
    used : sequence of str
        Each thing, as the log names it: ``steel wool``, ``non-abrasive pad``, ...
    adopted : Adopted
        The adopted editions. A thing that no rule names is asked about.
    """
    ask = Question("cleaning.abrasives", subject, adopted, also=("cleaning.outside",))
    known = [w for r in adopted.all("cleaning.outside") for w in (r.value or ())]
    return ask.lacks(**{"cleaning.with": tuple(used)}) or ask.answer(
        lambda rule: _abrasive([word(u) for u in used], rule.value, known)
    )


def _abrasive(used: Sequence[str], refused: Sequence[str], known: Sequence[str]) -> Ruling:
    bad = [u for u in used if u in refused]
    if bad:
        return not_met("cleaning.abrasive", used=", ".join(bad), saw=", ".join(bad))
    strange = [u for u in used if u not in known]
    if strange:
        return needed(
            "cleaning.strange",
            used=", ".join(strange),
            known=", ".join(known),
            refused=", ".join(refused),
        )
    return met("cleaning.pads", used=", ".join(used))


def judge_done(
    rule_id: str, subject: Subject, done: Mapping[str, str], *, adopted: Adopted
) -> Finding:
    """Judge a list of things that must all have been done.

    Parameters
    ----------
    rule_id : str
        ``cleaning.cut`` or ``cleaning.inside``.
    subject : Subject
        The coupon or joint.
    done : mapping of str to str
        Item of the rule to ``yes`` or ``no``; an absent one needs data.
    adopted : Adopted
        The adopted editions.
    """
    ask = Question(rule_id, subject, adopted)
    return ask.answer(lambda rule: _done(rule, done))


def _done(rule: Rule, done: Mapping[str, str]) -> Ruling:
    left_out = [item for item in rule.value if done.get(item) == "no"]
    if left_out:
        return not_met("cleaning.left_out", what=rule.title, items=", ".join(left_out))
    unknown = [item for item in rule.value if done.get(item) not in YES_NO]
    if unknown:
        return needed("cleaning.not_logged", what=rule.title, items=", ".join(unknown))
    return met("cleaning.done", what=rule.title)
