"""Readers' cumulative sums in words, as JSON and as plots."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from lapwright.core.errors import LapwrightError
from lapwright.documents.sumsplot import SumsPlot, sums_svg
from lapwright.measure.cusum import ReaderChart

from .readersfigures import not_given, points
from .text import word

Charts = Sequence[tuple[str, ReaderChart | LapwrightError]]


def chart_lines(charts: Charts) -> Iterator[str]:
    """Yield one or two lines a reader: signals with their day, or that there is none.

    Parameters
    ----------
    charts : sequence of (str, ReaderChart or LapwrightError)
        Reader and chart.
    """
    if not charts:
        return
    yield from ("", word("readers.sums"))
    for name, chart in charts:
        if isinstance(chart, ReaderChart):
            yield from (f"  {line}" for line in _told(name, chart))
        else:
            yield f"  {name}: {not_given(chart).strip()}"


def chart_document(chart: ReaderChart) -> dict[str, Any]:
    """Return a chart as plain JSON; sums in units of s.

    Parameters
    ----------
    chart : ReaderChart
        The chart.
    """
    c = chart.cusum
    return {
        "readings": chart.readings,
        "differences": list(chart.differences),
        "days": [_day(d) for d in chart.days],
        "s": chart.s,
        "slack_in_s": c.slack,
        "decision_interval_in_s": c.decision,
        "upper_sums": list(c.high),
        "lower_sums": list(c.low),
        "signals": [
            {"on": _day(chart.days[s.at]), "since": _day(chart.days[s.began]), "side": s.side}
            for s in c.signals
        ],
        "seen": chart.seen,
    }


def chart_plot(name: str, chart: ReaderChart) -> str:
    """Return a reader's chart as SVG, with the words as its text alternative.

    Parameters
    ----------
    name : str
        The reader.
    chart : ReaderChart
        The chart.
    """
    c = chart.cusum
    return sums_svg(
        SumsPlot(
            word("readers.sums_title", reader=name),
            word("readers.sums_x"),
            word("readers.sums_y", s=points(chart.s)),
            [_day(d) for d in chart.days],
            c.high,
            c.low,
            c.decision,
            [(s.at, s.side) for s in c.signals],
            (
                word("readers.sums_upper"),
                word("readers.sums_decision"),
                word("readers.sums_lower"),
                word("readers.sums_signal"),
            ),
            " ".join([word("readers.sums_told"), *_told(name, chart)]),
        )
    )


def _told(name: str, chart: ReaderChart) -> Iterator[str]:
    c = chart.cusum
    sums = {"high": f"{max(c.high):.1f}", "low": f"{max(c.low):.1f}"}
    counted = {"reader": name, "differences": str(chart.readings), "days": str(len(chart.days))}
    counted["s"] = points(chart.s)
    if not c.signals:
        yield word("readers.sums_quiet", **counted, **sums)
        return
    yield word("readers.sums_loud", **counted, **sums)
    for s in c.signals:
        on, since = _day(chart.days[s.at]), _day(chart.days[s.began])
        yield word(f"readers.sums_signal.{s.side}", reader=name, on=on, since=since)


def _day(number: int) -> str:
    return date.fromordinal(number).isoformat()
