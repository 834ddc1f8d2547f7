"""Hold the figures of an instrument that was found out of tolerance (common practice, no source).

Nobody knows when it went wrong. So every figure taken with it since the last day
on which it was known to be good is held, until a person clears the doubt with a
reason (the error was too small to matter, the figure was taken again), or up to
the day on which it was calibrated again. The day of the last good check counts as
doubtful: the figure may have been taken after it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from lapwright.core.evidence import Doubt, Evidence
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Subject

from .asking import Question
from .rulebook import Adopted
from .rulings import met

RULE = "instrument.doubted"


@dataclass(frozen=True)
class InstrumentUse:
    """A figure taken with an instrument: ``what`` it is, as it stands in a sentence."""

    instrument: str
    what: str
    on: date


def reaches(doubt: Doubt, instrument: str, on: date, *, calibrated: Iterable[date] = ()) -> str:
    """Return ``reached`` where a doubt reaches a figure of that day, else empty text.

    Parameters
    ----------
    doubt : Doubt
        The doubt; without ``since`` it reaches back without end.
    instrument : str
        The instrument used.
    on : date
        Day of the figure.
    calibrated : iterable of date, optional
        Days on which the instrument was calibrated; one after the finding ends the reach.
    """
    again = min((d for d in calibrated if d > doubt.found_on), default=None)
    outside = (
        doubt.about != f"instrument:{instrument}"
        or (doubt.since is not None and on < doubt.since)
        or (again is not None and on >= again)
        or (doubt.cleared_on is not None and on > doubt.cleared_on)
    )
    return "" if outside else "reached"


def judge_doubted(
    evidence: Evidence, uses: Iterable[InstrumentUse], *, adopted: Adopted
) -> Iterator[Finding]:
    """Yield a hold for each figure of a doubted instrument, and tell what was cleared.

    Nothing is yielded while no instrument is doubted.

    Parameters
    ----------
    evidence : Evidence
        The case with the doubts known on the day.
    uses : iterable of InstrumentUse
        The figures of one coupon.
    adopted : Adopted
        The adopted editions with the programme's rules.
    """
    if not evidence.doubts or not adopted.has(RULE):
        return
    for use in uses:
        filed = evidence.instruments.get(use.instrument)
        calibrated = filed.calibrations if filed else ()
        for doubt in evidence.doubts:
            if reaches(doubt, use.instrument, use.on, calibrated=calibrated):
                yield _finding(doubt, use, adopted)


def _finding(doubt: Doubt, use: InstrumentUse, adopted: Adopted) -> Finding:
    ask = Question(RULE, Subject("instrument", use.instrument), adopted)
    shown = {
        "instrument": use.instrument,
        "what": use.what,
        "on": use.on.isoformat(),
        "found": doubt.found_on.isoformat(),
    }
    if doubt.cleared_on is not None:
        ended = {"by": doubt.cleared_by, "cleared": doubt.cleared_on.isoformat()}
        reason = doubt.cleared_reason
        return ask.answer(
            lambda _: met("instrument.doubt_cleared", reason=reason, **ended, **shown)
        )
    since = doubt.since.isoformat() if doubt.since else "the beginning"
    told = Message("instrument.doubted", since=since, reason=_sentence(doubt.reason), **shown)
    return ask.hold(told, observed=use.on.isoformat())


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
