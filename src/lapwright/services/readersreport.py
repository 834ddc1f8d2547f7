"""A study of readers as JSON, as lines for a terminal and as files of a report.

Shares are fractions in JSON and points of the overlap (percent) in words.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from math import sqrt
from typing import Any

from lapwright.core.errors import LapwrightError
from lapwright.documents.plots import DifferencePlot, Level, difference_svg
from lapwright.measure.agreement import Agreement
from lapwright.measure.cusum import ReaderChart
from lapwright.measure.deming import Deming
from lapwright.measure.drift import Drift
from lapwright.measure.gauge import Component, GaugeStudy
from lapwright.measure.kappa import Kappa
from lapwright.measure.methodcheck import Count
from lapwright.measure.trend import Trend

from .methodchecks import check_body
from .readerscharts import chart_document, chart_plot
from .readerslimit import limit_document
from .readerstrends import deming_document, trend_curves, trend_document
from .readerstudy import Checked, Pair, Study
from .readerswords import study_lines
from .text import word

Interval = tuple[float, float]
Doc = dict[str, Any]


def study_document(study: Study) -> Doc:
    """Return the study as plain JSON; a part that is not given holds its refusal.

    Parameters
    ----------
    study : Study
        The study.
    """
    rows, asked = study.readings.rows, study.asked
    stated = {
        "limit": asked.limit,
        "max_bias": asked.max_bias,
        "max_half_width": asked.max_half_width,
    }
    return {
        "outcome": "studied",
        "file": study.readings.name,
        "sha256": study.readings.sha256,
        "readings": len(rows),
        "faces": len({r.face for r in rows}),
        "readers": list(dict.fromkeys(r.reader for r in rows if r.way == "loupe")),
        "stated": {k: float(v) for k, v in stated.items() if v is not None},
        "gauge": _part(study.gauge),
        "agreement": [{"first": p.first, "second": p.second, **_pair(p)} for p in study.pairs],
        "verdicts_together": _part(study.together),
        "drift": [{"reader": name, **_part(drift)} for name, drift in study.drifts],
        "sums": [{"reader": name, **_part(chart)} for name, chart in study.charts],
        "method_check": _check(study),
        "claim": word("face.claim"),
    }


def study_files(study: Study) -> dict[str, bytes]:
    """Return the files of a report: plots, results, words and the method check's body.

    Parameters
    ----------
    study : Study
        The study.
    """
    files = {
        f"difference-{n:02}-{p.first}-{p.second}.svg": _readers_plot(p).encode()
        for n, p in enumerate(study.pairs, start=1)
        if isinstance(p.agreement, Agreement)
    }
    files |= {
        f"sums-{n:02}-{name}.svg": chart_plot(_short(name), chart).encode()
        for n, (name, chart) in enumerate(study.charts, start=1)
        if isinstance(chart, ReaderChart)
    }
    if isinstance(study.check, Checked):
        files["difference-program-loupe.svg"] = _check_plot(study.check).encode()
    body = check_body(study)
    if body is not None:
        files["method-check.json"] = _json(body)
    files["report.txt"] = ("\n".join(study_lines(study)) + "\n").encode()
    files["results.json"] = _json(study_document(study))
    return files


def _json(document: object) -> bytes:
    return (json.dumps(document, indent=2, ensure_ascii=False) + "\n").encode()


def _part(part: object) -> Doc:
    if isinstance(part, LapwrightError):
        return {"refused": {"code": part.code, "message": str(part)}}
    if isinstance(part, GaugeStudy):
        return _gauge(part)
    if isinstance(part, Agreement):
        return _agreement(part)
    if isinstance(part, Kappa):
        return _kappa(part)
    if isinstance(part, Drift):
        return {
            "differences": part.faces,
            "days": part.days,
            "mean": part.mean,
            "slope_per_30_days": part.slope,
            "interval95": list(part.interval),
            "seen": part.seen,
        }
    if isinstance(part, Trend):
        return trend_document(part)
    if isinstance(part, Deming):
        return deming_document(part)
    if isinstance(part, ReaderChart):
        return chart_document(part)
    return {}


def _pair(pair: Pair) -> Doc:
    parts = {
        "verdicts": pair.kappa,
        "trend": pair.trend,
        "errors_in_variables": pair.line,
    }
    told = {name: _part(part) for name, part in parts.items() if part is not None}
    return _part(pair.agreement) | told


def _gauge(g: GaugeStudy) -> Doc:
    total = sum(c.variance for c in g.components)
    one, many = g.repeatability, g.reproducibility
    return {
        "design": g.design,
        "faces": g.faces,
        "readers": g.readers,
        "readings": g.readings,
        "readings_a_cell": g.repeats,
        "anova": [
            {"source": s.name, "ss": s.ss, "df": s.df, "ms": s.ms, "f": s.f, "p": s.p}
            for s in g.table
        ],
        "components": [_component(c, total) for c in g.components],
        "set_to_zero": list(g.zeroed),
        "s_r": one.s if one else None,
        "s_r_interval95": list(one.s_interval) if one else None,
        "s_R": many.s,
        "s_R_interval95": list(many.s_interval),
        **limit_document(g),
    }


def _component(c: Component, total: float) -> Doc:
    return {
        "name": c.name,
        "variance": c.variance,
        "raw_variance": c.raw,
        "interval95": [c.low, c.high],
        "s": sqrt(c.variance),
        "share_of_variance": c.variance / total if total > 0 else None,
    }


def _agreement(a: Agreement) -> Doc:
    return {
        "faces": a.faces,
        "bias": a.bias,
        "bias_interval95": list(a.bias_interval),
        "s_difference": a.s,
        "df": a.df,
        "half_width": a.half_width,
        "lower": a.lower,
        "lower_interval95": list(a.lower_interval),
        "upper": a.upper,
        "upper_interval95": list(a.upper_interval),
    }


def _kappa(k: Kappa) -> Doc:
    return {
        "faces": k.faces,
        "readers": k.readers,
        "agreed": k.agreed,
        "observed": k.observed,
        "expected": k.expected,
        "kappa": k.kappa,
        "interval95": list(k.interval) if k.interval else None,
    }


def _count(count: Count | None) -> Doc | None:
    if count is None:
        return None
    return {
        "hits": count.hits,
        "of": count.of,
        "share": count.hits / count.of,
        "interval95": list(count.interval),
    }


def _check(study: Study) -> Doc | None:
    if study.check is None:
        return None
    if not isinstance(study.check, Checked):
        return _part(study.check)
    f, body = study.check.figures, check_body(study)
    return {
        "method": study.check.method,
        "faces": f.faces,
        **_agreement(f.agreement),
        "trend": _part(f.trend) if f.trend else None,
        "bias_at_limit": f.bias_at_limit,
        "errors_in_variables": _part(study.check.line),
        "refused": _count(f.refused),
        "covered": _count(f.covered),
        "faces_covered": _count(f.held),
        "over_limit": f.over_limit,
        "below_limit": f.below_limit,
        "near_limit": f.near_limit,
        "levels": f.levels,
        "half_width_at_limit": f.half_width_at_limit,
        "verdicts": _kappa(f.verdicts) if f.verdicts else None,
        "falsely_met": list(f.falsely_met),
        "falsely_not_met": list(f.falsely_not_met),
        "result": body["result"] if body else "not-stated",
    }


def _readers_plot(pair: Pair) -> str:
    assert isinstance(pair.agreement, Agreement)
    first, second = _short(pair.first), _short(pair.second)
    title = word("readers.plot_title", first=first, second=second)
    label = word("readers.plot_y", first=first, second=second)
    return _plot(pair.agreement, pair.trend, title, label)


def _short(name: str, limit: int = 16) -> str:
    return name if len(name) <= limit else name[: limit - 1] + "…"


def _check_plot(checked: Checked) -> str:
    return _plot(
        checked.figures.agreement,
        checked.figures.trend,
        word("readers.plot_check"),
        word("readers.plot_y", first="program", second="loupe"),
    )


def _plot(a: Agreement, trend: Trend | LapwrightError | None, title: str, label: str) -> str:
    sloped = isinstance(trend, Trend) and trend.seen == "yes"
    curves = trend_curves(trend) if isinstance(trend, Trend) and sloped else []
    told = "readers.plot_told_sloped" if sloped else "readers.plot_told"
    return difference_svg(
        DifferencePlot(
            title,
            word("readers.plot_x"),
            label,
            list(zip(a.means, a.differences, strict=True)),
            [] if curves else list(_levels(a)),
            word(told, faces=str(a.faces)),
            curves,
        )
    )


def _levels(a: Agreement) -> Iterator[Level]:
    yield Level(a.upper, *a.upper_interval, word("readers.upper"), "7 4")
    yield Level(a.bias, *a.bias_interval, word("readers.bias"))
    yield Level(a.lower, *a.lower_interval, word("readers.lower"), "7 4")
