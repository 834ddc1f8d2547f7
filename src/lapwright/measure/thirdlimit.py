"""How well the third-reading limit is known, and what more faces or readers would give.

The limit is 2.8 s_R, and s_R is an estimate. Its 95 % interval is that of
`lapwright.measure.gauge` (Graybill and Wang 1980; Burdick, Borror and Montgomery
2005; from memory). Beside it stand the effective degrees of freedom after
Satterthwaite 1946 (JCGM 100:2008, G.4.1, has the same formula) and the row of the
analysis of variance that leaves most of the doubt. A plan puts the mean squares at
what the components found let expect for another number of faces and readers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .agreement import Interval
from .gauge import LIMIT_FACTOR, GaugeStudy, Source, mean_square_sum, weighed_squares

USUAL_FACES = 30
SAME = 1e-9  # of the overlap: what the rounding of equal numbers leaves of a spread
KNOWN_WITHIN = 1.5  # upper end over the estimate; common practice, no source


@dataclass(frozen=True)
class ThirdLimit:
    """The limit with its 95 % interval, shares of the overlap.

    ``df`` are the effective degrees of freedom of s_R^2; ``mostly`` names the source
    (``readers``, ``interaction``, ``repeats``, ``residual``) that leaves most doubt,
    empty where nothing varied.
    """

    limit: float
    interval: Interval
    df: float
    mostly: str

    @property
    def known(self) -> str:
        """``yes`` when the upper end is at most half as large again, else ``no``."""
        return "yes" if self.interval[1] <= KNOWN_WITHIN * self.limit else "no"


def looks_copied(study: GaugeStudy) -> str:
    """Return ``yes`` when no reading of any face differs from another, else ``no``.

    Parameters
    ----------
    study : GaugeStudy
        A limit of nothing from such readings would tell nothing of the readers.
    """
    return "yes" if study.reproducibility.s <= SAME else "no"


@dataclass(frozen=True)
class Plan:
    """The interval to expect of the limit with so many faces and readers."""

    faces: int
    readers: int
    interval: Interval


def third_limit(study: GaugeStudy) -> ThirdLimit:
    """Return the third-reading limit with its interval.

    Parameters
    ----------
    study : GaugeStudy
        From `lapwright.measure.gauge.study_gauge`.

    Examples
    --------
    >>> from lapwright.measure.gauge import study_gauge
    >>> cells = {(str(f), r): [0.1 * f + d, 0.1 * f - d] for f in range(1, 6)
    ...          for r, d in (("a", 0.004), ("b", 0.006))}
    >>> third_limit(study_gauge(cells)).mostly
    'repeats'
    """
    whole = study.reproducibility
    squares = weighed_squares(study.table, faces=study.faces, repeats=study.repeats)
    parts = [(s.name, c * s.ms, s.df) for c, s in squares]
    doubt = {name: value * value / df for name, value, df in parts}
    total = math.fsum(value for _, value, _ in parts)
    low, high = whole.s_interval
    return ThirdLimit(
        study.third_reading_limit,
        (LIMIT_FACTOR * low, LIMIT_FACTOR * high),
        total**2 / math.fsum(doubt.values()) if total > 0 else 0.0,
        max(doubt, key=lambda name: doubt[name]) if total > 0 else "",
    )


def plan_study(study: GaugeStudy, faces: int, readers: int) -> Plan:
    """Return the interval to expect with another number of faces and readers.

    Parameters
    ----------
    study : GaugeStudy
        The study whose components are taken as they were found.
    faces, readers : int
        How many the planned study has, two or more of each.
    """
    found = {c.name: c.variance for c in study.components}
    n = study.repeats
    last = found.get("repeatability", found.get("residual", 0.0))
    crossed = last + n * found.get("interaction", 0.0)
    rows = [
        _expected("readers", crossed + faces * n * found["readers"], readers - 1),
        _expected("interaction", crossed, (faces - 1) * (readers - 1)),
    ]
    if study.repeatability is not None:
        rows.append(_expected("repeats", last, max(1, round(faces * readers * (n - 1)))))
    table = (_expected("faces", 0.0, faces - 1), *rows)
    clipped = math.fsum(v for name, v in found.items() if name != "faces")
    squares = weighed_squares(table, faces=faces, repeats=n)
    part = mean_square_sum("reproducibility", squares, at_least=clipped)
    low, high = part.s_interval
    return Plan(faces, readers, (LIMIT_FACTOR * low, LIMIT_FACTOR * high))


def _expected(name: str, ms: float, df: int) -> Source:
    return Source(name, ms * df, df)


def usual_plans(study: GaugeStudy) -> tuple[Plan, ...]:
    """Return plans with 30 and 60 faces, and with these readers and two more.

    Parameters
    ----------
    study : GaugeStudy
        The study whose components are taken as they were found.
    """
    sizes = [
        (faces, readers)
        for readers in (study.readers, study.readers + 2)
        for faces in (USUAL_FACES, 2 * USUAL_FACES)
    ]
    return tuple(
        plan_study(study, f, r) for f, r in sizes if (f, r) != (study.faces, study.readers)
    )
