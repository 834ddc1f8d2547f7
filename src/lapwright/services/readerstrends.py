"""Whether a difference depends on the level, in words, as JSON and as curves of a plot."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from lapwright.core.errors import LapwrightError
from lapwright.documents.plots import Curve
from lapwright.measure.deming import Deming
from lapwright.measure.trend import Line, Trend

from .readersfigures import not_given, signed_points, span, table_lines
from .text import word

Doc = dict[str, Any]
PLACES = 25  # of a curve


def trend_lines(
    name: str,
    trend: Trend | LapwrightError | None,
    line: Deming | LapwrightError | None,
    *,
    limit: Decimal | None,
) -> Iterator[str]:
    """Yield what is seen of a proportional bias, with limits by level where one is.

    Parameters
    ----------
    name : str
        Which difference, such as ``teal less brindle``.
    trend : Trend or LapwrightError or None
        The trend, why there is none, or None to say nothing.
    line : Deming or LapwrightError or None
        The errors-in-variables check.
    limit : Decimal or None
        The stated limit; its level is shown too.
    """
    if isinstance(trend, LapwrightError):
        yield f"  {name}: {not_given(trend).strip()}"
    if not isinstance(trend, Trend):
        return
    low, high = trend.line.slope_interval
    slope = {
        "name": name,
        "slope": f"{10 * trend.line.slope:+.2f}",
        "interval": f"{10 * low:+.2f} to {10 * high:+.2f}",
    }
    yield "  " + word(f"readers.trend.{trend.line.seen}", **slope)
    if trend.spread.seen == "yes":
        yield "  " + word("readers.spread_seen", name=name)
    if isinstance(line, Deming):
        yield "  " + _deming(line, trend)
    if trend.seen == "yes":
        yield "  " + word("readers.by_level")
        yield from table_lines(_columns(), _rows(trend, limit))


def trend_document(trend: Trend) -> Doc:
    """Return a trend as plain JSON, with bias and limits at the ends of the faces' levels.

    Parameters
    ----------
    trend : Trend
        The trend.
    """
    low, high = _range(trend)
    return {
        "slope": _line(trend.line),
        "slope_of_spread": _line(trend.spread),
        "seen": trend.seen,
        "levels": [
            {
                "mean": level,
                "bias": trend.bias_at(level),
                "bias_interval95": list(trend.bias_interval_at(level)),
                "limits": list(trend.limits_at(level)),
            }
            for level in (low, high)
        ],
    }


def deming_document(line: Deming) -> Doc:
    """Return an errors-in-variables line as plain JSON.

    Parameters
    ----------
    line : Deming
        The line.
    """
    return {
        "slope": line.slope,
        "slope_interval95": list(line.slope_interval),
        "intercept": line.intercept,
        "intercept_interval95": list(line.intercept_interval),
        "error_ratio": line.ratio,
        "error_ratio_from": line.ratio_from,
        "seen": line.seen,
    }


def trend_curves(trend: Trend) -> list[Curve]:
    """Return upper limit, bias and lower limit as functions of the level.

    Parameters
    ----------
    trend : Trend
        A trend that is seen.
    """
    low, high = _range(trend)
    levels = [low + n * (high - low) / (PLACES - 1) for n in range(PLACES)]
    limits = [trend.limits_at(level) for level in levels]
    bias = [(m, trend.bias_at(m), *trend.bias_interval_at(m)) for m in levels]
    lower = [(m, a, a, a) for m, (a, _) in zip(levels, limits, strict=True)]
    upper = [(m, b, b, b) for m, (_, b) in zip(levels, limits, strict=True)]
    return [
        Curve(upper, word("readers.upper"), _ends(upper), "7 4"),
        Curve(bias, word("readers.bias"), _ends(bias)),
        Curve(lower, word("readers.lower"), _ends(lower), "7 4"),
    ]


def _ends(places: list[tuple[float, float, float, float]]) -> str:
    (m, a, *_), (n, b, *_) = places[0], places[-1]
    return word(
        "readers.plot_ends",
        a=signed_points(a).replace("-", "−"),
        at=f"{100 * m:.0f}",
        b=signed_points(b).replace("-", "−"),
        to=f"{100 * n:.0f}",
    )


def _deming(line: Deming, trend: Trend) -> str:
    source = word(f"readers.ratio.{line.ratio_from}", ratio=f"{line.ratio:.2g}")
    low, high = line.slope_interval
    told = word(
        "readers.deming",
        slope=f"{line.slope:.3f}",
        interval=f"{low:.3f} to {high:.3f}",
        ratio=source,
    )
    same = "same" if line.seen == trend.line.seen else "differs"
    return f"{told} {word(f'readers.deming_{same}.{trend.line.seen}')}"


def _columns() -> tuple[str, ...]:
    return (
        word("readers.col_level"),
        word("readers.bias"),
        word("readers.col_interval"),
        word("readers.lower"),
        word("readers.upper"),
    )


def _rows(trend: Trend, limit: Decimal | None) -> Iterator[tuple[str, ...]]:
    levels = {*_range(trend), trend.line.level} | ({float(limit)} if limit is not None else set())
    for level in sorted(levels):
        lower, upper = trend.limits_at(level)
        yield (
            f"{100 * level:.1f} %",
            signed_points(trend.bias_at(level)),
            span(trend.bias_interval_at(level)),
            signed_points(lower),
            signed_points(upper),
        )


def _range(trend: Trend) -> tuple[float, float]:
    return min(trend.plain.means), max(trend.plain.means)


def _line(line: Line) -> Doc:
    return {
        "slope": line.slope,
        "interval95": list(line.slope_interval),
        "intercept": line.at(0.0),
        "s_residual": line.s,
        "p": line.p,
        "seen": line.seen,
    }
