"""A study of readers in words and tables; points of the overlap (percent)."""

from __future__ import annotations

from collections.abc import Iterator

from lapwright.core.errors import LapwrightError
from lapwright.measure.agreement import Agreement
from lapwright.measure.drift import Drift
from lapwright.measure.gauge import GaugeStudy
from lapwright.measure.kappa import Kappa
from lapwright.measure.methodcheck import Count
from lapwright.measure.thirdlimit import looks_copied

from .methodchecks import check_body
from .readerscharts import chart_lines
from .readersfigures import not_given, points, signed_points, span, table_lines
from .readerslimit import limit_lines
from .readerstrends import trend_lines
from .readerstudy import Checked, Study
from .text import word

RESULTS = {
    "within": "readers.check_within",
    "outside": "readers.check_outside",
    "too-few-faces": "readers.check_few",
    "limits-too-wide": "readers.check_loose",
    "refused-too-often": "readers.check_refusing",
    "none-near-the-limit": "readers.check_far",
    "falsely-met": "readers.check_false_met",
    "biased-at-the-limit": "readers.check_sloped",
    "faces-not-on-both-sides": "readers.check_spread",
    "intervals-too-narrow": "readers.check_uncovered",
}


def study_lines(study: Study) -> list[str]:
    """Return the study as lines for a terminal, the claim first.

    Parameters
    ----------
    study : Study
        The study.
    """
    rows = study.readings.rows
    head = word(
        "readers.head",
        file=study.readings.name,
        readings=str(len(rows)),
        faces=str(len({r.face for r in rows})),
    )
    return [
        head,
        word("face.claim"),
        *_gauge(study.gauge),
        *_agreement(study),
        *_verdicts(study),
        *_drift(study),
        *chart_lines(study.charts),
        *_check(study),
    ]


def _gauge(g: GaugeStudy | LapwrightError) -> Iterator[str]:
    yield from ("", word("readers.gauge"))
    if isinstance(g, LapwrightError):
        yield not_given(g)
        return
    yield "  " + word(
        f"readers.design.{g.design}",
        faces=str(g.faces),
        readers=str(g.readers),
        repeats=f"{g.repeats:.3g}",
    )
    yield from table_lines((word("readers.col_source"), "SS", "df", "MS", "F", "P"), _anova(g))
    columns = word("readers.col_part"), "s", word("readers.col_interval"), word("readers.col_share")
    yield from table_lines(columns, _components(g))
    for name in g.zeroed:
        yield "  " + word("readers.zeroed", part=word(f"readers.source.{name}"))
    one, many = g.repeatability, g.reproducibility
    if one is not None:
        yield "  " + word("readers.s_r", s=points(one.s), interval=span(one.s_interval))
    yield "  " + word("readers.s_big_r", s=points(many.s), interval=span(many.s_interval))
    if looks_copied(g) == "yes":
        yield "  " + word("readers.copied")
        return
    yield "  " + word("readers.third", limit=points(g.third_reading_limit), s=points(many.s))
    yield from limit_lines(g)


def _anova(g: GaugeStudy) -> Iterator[tuple[str, ...]]:
    for s in g.table:
        yield (
            word(f"readers.source.{s.name}"),
            f"{1e4 * s.ss:.4f}",
            str(s.df),
            f"{1e4 * s.ms:.4f}",
            _or_dash(s.f, ".2f"),
            _probability(s.p),
        )


def _components(g: GaugeStudy) -> Iterator[tuple[str, ...]]:
    total = sum(c.variance for c in g.components)
    for c in g.components:
        share = f"{100 * c.variance / total:.1f} %" if total > 0 else "–"
        yield word(f"readers.source.{c.name}"), points(c.s), span(c.s_interval), share


def _agreement(study: Study) -> Iterator[str]:
    if not study.pairs:
        return
    yield from ("", word("readers.agreement"))
    rows: list[tuple[str, ...]] = []
    for p in study.pairs:
        name = word("readers.less", first=p.first, second=p.second)
        if isinstance(p.agreement, Agreement):
            rows += _limits(name, p.agreement)
        else:
            yield f"  {name}: {not_given(p.agreement).strip()}"
    if rows:
        yield from table_lines(_limit_columns(), rows)
    for p in study.pairs:
        name = word("readers.less", first=p.first, second=p.second)
        yield from trend_lines(name, p.trend, p.line, limit=study.asked.limit)


def _verdicts(study: Study) -> Iterator[str]:
    if not study.pairs:
        return
    limit = study.asked.limit
    if limit is None:
        yield from ("", word("readers.no_limit"))
        return
    yield from ("", word("readers.verdicts", limit=f"{float(limit) * 100:g}"))
    for p in study.pairs:
        if isinstance(p.kappa, Kappa):
            yield "  " + _kappa(word("readers.and", first=p.first, second=p.second), p.kappa)
        elif p.kappa is not None:
            yield not_given(p.kappa)
    if isinstance(study.together, Kappa):
        yield "  " + _kappa(word("readers.together"), study.together)
    elif study.together is not None:
        yield not_given(study.together)


def _kappa(who: str, k: Kappa) -> str:
    counted = word("readers.agreed", who=who, agreed=str(k.agreed), faces=str(k.faces))
    if k.kappa is None:
        return f"{counted} {word('readers.kappa_none')}"
    value = f"{k.kappa:.3f}"
    if k.interval is None:
        kind = "readers.fleiss" if k.readers > 2 else "readers.cohen_bare"
        return f"{counted} {word(kind, kappa=value)}"
    span = f"{k.interval[0]:.3f} to {k.interval[1]:.3f}"
    return f"{counted} {word('readers.cohen', kappa=value, interval=span)}"


def _drift(study: Study) -> Iterator[str]:
    if not study.drifts:
        return
    yield from ("", word("readers.drift"))
    for name, drift in study.drifts:
        if isinstance(drift, Drift):
            yield "  " + word(
                f"readers.drift_seen.{drift.seen}",
                reader=name,
                slope=f"{100 * drift.slope:+.2f}",
                interval=span(drift.interval),
                days=str(drift.days),
                differences=str(drift.faces),
            )
        else:
            yield f"  {name}: {not_given(drift).strip()}"


def _check(study: Study) -> Iterator[str]:
    if study.check is None:
        return
    yield from ("", word("readers.check"))
    if not isinstance(study.check, Checked):
        yield not_given(study.check)
        return
    f, method = study.check.figures, study.check.method
    name = word("readers.less", first="program", second="loupe")
    yield "  " + word("readers.check_of", faces=str(f.faces), method=method or "–")
    yield from table_lines(_limit_columns(), _limits(name, f.agreement))
    yield from trend_lines(name, f.trend, study.check.line, limit=study.asked.limit)
    if f.bias_at_limit is not None and f.trend is not None and f.trend.line.seen == "yes":
        yield "  " + word("readers.check_at_limit", bias=signed_points(f.bias_at_limit))
    yield "  " + word("readers.check_refused", **_counted(f.refused))
    if f.covered is not None:
        yield "  " + word("readers.check_covered", **_counted(f.covered))
    yield "  " + word("readers.check_held", **_counted(f.held))
    yield "  " + word(
        "readers.check_sides",
        over=str(f.over_limit),
        below=str(f.below_limit),
        levels=str(f.levels),
        near=str(f.near_limit),
    )
    if f.verdicts is not None:
        yield "  " + _kappa(word("readers.and", first="program", second="loupe"), f.verdicts)
        yield "  " + word("readers.falsely_met", faces=", ".join(f.falsely_met) or "–")
        yield "  " + word("readers.falsely_not_met", faces=", ".join(f.falsely_not_met) or "–")
    yield from _result(study)


def _result(study: Study) -> Iterator[str]:
    body, asked = check_body(study), study.asked
    if body is None or asked.max_bias is None or asked.max_half_width is None:
        yield "  " + word("readers.check_not_stated")
        return
    stated = {
        "bias": f"{float(asked.max_bias) * 100:g}",
        "half_width": f"{float(asked.max_half_width) * 100:g}",
    }
    yield "  " + word(RESULTS[body["result"]], **stated)


def _limit_columns() -> tuple[str, ...]:
    return (
        word("readers.col_difference"),
        word("readers.col_faces"),
        "",
        word("readers.col_points"),
        word("readers.col_interval"),
    )


def _limits(name: str, a: Agreement) -> list[tuple[str, ...]]:
    return [
        (name, str(a.faces), word("readers.bias"), signed_points(a.bias), span(a.bias_interval)),
        ("", "", word("readers.lower"), signed_points(a.lower), span(a.lower_interval)),
        ("", "", word("readers.upper"), signed_points(a.upper), span(a.upper_interval)),
    ]


def _counted(count: Count) -> dict[str, str]:
    low, high = count.interval
    return {
        "hits": str(count.hits),
        "of": str(count.of),
        "low": f"{100 * low:.1f}",
        "high": f"{100 * high:.1f}",
    }


def _or_dash(value: float | None, form: str) -> str:
    return "–" if value is None else format(value, form)


def _probability(p: float | None) -> str:
    return "< 0.0001" if p is not None and p < 0.0001 else _or_dash(p, ".4f")
