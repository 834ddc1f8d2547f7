"""Hold the figures of an instrument that was found out of tolerance (common practice, no source).

Nobody knows when it went wrong. So every figure taken with it since the last day
on which it was known to be good is held, until a person clears the doubt with a
reason (the error was too small to matter, the figure was taken again), or up to
the next calibration, which may be that of the day of the finding itself. Days have
no order within: the day of the last good check counts as doubtful, because the
figure may have been taken after it; so does the day of the next calibration, unless
the figure states that it was taken after that calibration.
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
    """A figure taken with an instrument: ``what`` it is, as it stands in a sentence.

    ``after`` is the day of the calibration after which it was taken, where that was stated.
    """

    instrument: str
    what: str
    on: date
    after: date | None = None


def reaches(
    doubt: Doubt,
    instrument: str,
    on: date,
    *,
    calibrated: Iterable[date] = (),
    after: date | None = None,
) -> str:
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
        Days on which the instrument was calibrated; the next one ends the reach, see
        `next_calibration`.
    after : date, optional
        Day of the calibration after which the figure was taken, as stated with it. It frees
        a figure of that very day, and no other.
    """
    again = next_calibration(doubt, calibrated)
    outside = (
        doubt.about != f"instrument:{instrument}"
        or (doubt.since is not None and on < doubt.since)
        or (again is not None and (on > again or on == again == after))
        or (doubt.cleared_on is not None and on > doubt.cleared_on)
    )
    return "" if outside else "reached"


def next_calibration(doubt: Doubt, calibrated: Iterable[date]) -> date | None:
    """Return the first calibration from the finding on, or None.

    One of the day of the finding counts: an instrument is mostly found bad when it is
    calibrated, and leaves good. Where that day is also the last one on which it was known to be
    good, its calibration may be the one before the finding, and does not count.

    Parameters
    ----------
    doubt : Doubt
        The doubt.
    calibrated : iterable of date
        Days on which the instrument was calibrated.
    """
    found, same = doubt.found_on, doubt.since == doubt.found_on
    return min((d for d in calibrated if d > found or (d == found and not same)), default=None)


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
            if reaches(doubt, use.instrument, use.on, calibrated=calibrated, after=use.after):
                same_day = use.on == next_calibration(doubt, calibrated)
                yield _finding(doubt, use, adopted, "same day" if same_day else "")


def _finding(doubt: Doubt, use: InstrumentUse, adopted: Adopted, unordered: str) -> Finding:
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
    name = "instrument.doubted_same_day" if unordered else "instrument.doubted"
    told = Message(name, since=since, reason=_sentence(doubt.reason), **shown)
    return ask.hold(told, observed=use.on.isoformat())


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
