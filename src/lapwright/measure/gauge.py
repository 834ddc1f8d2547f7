"""Repeatability and reproducibility of readers: a two-way random gauge study with interaction.

Faces and readers are crossed and both random. Equal numbers of readings give the
usual analysis of variance; unequal numbers the analysis of unweighted cell means,
in which the harmonic mean takes the place of the number of readings. A face that
a reader has not read is refused, never filled in. With one reading a cell,
repeatability and interaction cannot be told apart and stand as one.

Sources: ISO 5725-2 and ISO/TR 12888 for the model; Burdick, Borror and Montgomery,
Design and Analysis of Gauge R&R Studies, 2005, for the modified large-sample
intervals and the unweighted means (all from memory). Terms are never pooled.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from .errors import StudyHasGaps, StudyTooSmall
from .quantiles import chi2_quantile, f_quantile, f_tail

Cells = Mapping[tuple[str, str], Sequence[float]]
LIMIT_FACTOR = 2.8  # 1.96 x sqrt 2, rounded: ISO 5725-6, from memory
LEVEL = 0.95


@dataclass(frozen=True)
class Source:
    """One row of the analysis of variance; ``f`` and ``p`` are None without a denominator."""

    name: str
    ss: float
    df: int
    f: float | None = None
    p: float | None = None

    @property
    def ms(self) -> float:
        """Mean square, in squared shares."""
        return self.ss / self.df


@dataclass(frozen=True)
class Component:
    """One component of variance with its 95 % interval, in squared shares.

    ``variance`` is never negative; ``raw`` is what the sum gave.
    """

    name: str
    variance: float
    raw: float
    low: float
    high: float

    @property
    def s(self) -> float:
        """Standard deviation, as a share of the overlap."""
        return math.sqrt(self.variance)

    @property
    def s_interval(self) -> tuple[float, float]:
        """The 95 % interval of the standard deviation."""
        return math.sqrt(self.low), math.sqrt(self.high)


@dataclass(frozen=True)
class GaugeStudy:
    """A gauge study: the table, the components, s_r and s_R with their intervals.

    ``design`` is ``balanced``, ``unweighted-means`` or ``single``; with ``single``
    repeatability and interaction stand as one component, ``residual``. ``repeats`` is the
    (harmonic) mean number of readings a cell.
    """

    design: str
    faces: int
    readers: int
    readings: int
    repeats: float
    table: tuple[Source, ...]
    components: tuple[Component, ...]
    reproducibility: Component

    @property
    def zeroed(self) -> tuple[str, ...]:
        """Components whose sum was negative and that stand as zero."""
        return tuple(c.name for c in self.components if c.raw < 0)

    @property
    def repeatability(self) -> Component | None:
        """One reader's spread on one face; None where every cell holds one reading."""
        last = self.components[-1]
        return last if last.name == "repeatability" else None

    @property
    def third_reading_limit(self) -> float:
        """Difference of two readers over which a third reads: 2.8 s_R (ISO 5725-6)."""
        return LIMIT_FACTOR * self.reproducibility.s


def study_gauge(cells: Cells) -> GaugeStudy:
    """Study how far readers agree with themselves and with each other.

    Parameters
    ----------
    cells : mapping
        (face, reader) to the readings of that face by that reader, shares of the
        overlap, [-].

    Raises
    ------
    StudyTooSmall
        With fewer than two faces or two readers.
    StudyHasGaps
        If a reader has not read a face.

    Notes
    -----
    Expected mean squares with P faces, O readers and n readings a cell: faces
    ``v + n v_FR + O n v_F``, readers ``v + n v_FR + P n v_R``, interaction
    ``v + n v_FR``, repeats ``v``. Reproducibility is ``v + v_FR + v_R``.

    Examples
    --------
    >>> cells = {("1", "a"): [0.10, 0.12], ("1", "b"): [0.11, 0.13],
    ...          ("2", "a"): [0.20, 0.22], ("2", "b"): [0.21, 0.23]}
    >>> study_gauge(cells).design
    'balanced'
    """
    faces, readers = _names(cells)
    counts = [len(cells[f, r]) for f in faces for r in readers]
    n = len(counts) / sum(1 / c for c in counts)
    means = [[_mean(cells[f, r]) for r in readers] for f in faces]
    within = math.fsum((v - _mean(row)) ** 2 for row in cells.values() for v in row)
    spare = sum(counts) - len(counts)
    between = _between(means, n)
    table = _table(between, within, spare)
    parts = _components(table, n, len(faces), len(readers))
    design = "single" if not spare else "balanced" if len(set(counts)) == 1 else "unweighted-means"
    clipped = math.fsum(c.variance for c in parts[1:])
    squares = weighed_squares(table, faces=len(faces), repeats=n)
    whole = mean_square_sum("reproducibility", squares, at_least=clipped)
    return GaugeStudy(design, len(faces), len(readers), sum(counts), n, table, parts, whole)


def _names(cells: Cells) -> tuple[list[str], list[str]]:
    faces = list(dict.fromkeys(f for f, _ in cells))
    readers = list(dict.fromkeys(r for _, r in cells))
    if len(faces) < 2 or len(readers) < 2:
        raise StudyTooSmall(
            "too few for a gauge study",
            got=f"{len(faces)} face(s), {len(readers)} reader(s)",
            expected="at least 2 faces and 2 readers",
            do="Have more faces read by more readers.",
        )
    gaps = [f"{f} by {r}" for f in faces for r in readers if not cells.get((f, r))]
    if gaps:
        raise StudyHasGaps(
            "faces that a reader has not read",
            got=", ".join(gaps),
            expected="every face read by every reader",
            do="Have them read, or make a file without these faces or readers.",
        )
    return faces, readers


def _between(means: list[list[float]], n: float) -> tuple[Source, Source, Source]:
    p, o = len(means), len(means[0])
    rows = [_mean(row) for row in means]
    columns = [_mean([row[j] for row in means]) for j in range(o)]
    grand = _mean(rows)
    ss_f = n * o * math.fsum((v - grand) ** 2 for v in rows)
    ss_r = n * p * math.fsum((v - grand) ** 2 for v in columns)
    ss_i = n * math.fsum(
        (means[i][j] - rows[i] - columns[j] + grand) ** 2 for i in range(p) for j in range(o)
    )
    return (
        Source("faces", ss_f, p - 1),
        Source("readers", ss_r, o - 1),
        Source("interaction", ss_i, (p - 1) * (o - 1)),
    )


def _table(between: tuple[Source, Source, Source], within: float, spare: int) -> tuple[Source, ...]:
    faces, readers, cross = between
    rows = [_tested(faces, cross), _tested(readers, cross)]
    if not spare:
        return (*rows, Source("residual", cross.ss, cross.df))
    repeats = Source("repeats", within, spare)
    return (*rows, _tested(cross, repeats), repeats)


def _tested(row: Source, against: Source) -> Source:
    if against.ms <= 0:
        return row
    f = row.ms / against.ms
    return Source(row.name, row.ss, row.df, f, f_tail(f, row.df, against.df))


def _components(table: tuple[Source, ...], n: float, p: int, o: int) -> tuple[Component, ...]:
    faces, readers, cross = table[0], table[1], table[2]
    last = table[-1]
    parts = [
        _difference("faces", faces, cross, 1 / (o * n)),
        _difference("readers", readers, cross, 1 / (p * n)),
    ]
    if last is not cross:
        parts.append(_difference("interaction", cross, last, 1 / n))
    name = "residual" if last is cross else "repeatability"
    return (*parts, mean_square_sum(name, [(1.0, last)], at_least=0.0))


def weighed_squares(
    table: tuple[Source, ...], *, faces: int, repeats: float
) -> list[tuple[float, Source]]:
    """Return the mean squares whose weighed sum is s_R squared.

    Parameters
    ----------
    table : tuple of Source
        Faces, readers, interaction (or residual) and, with repeats, repeats.
    faces : int
        Number of faces.
    repeats : float
        (Harmonic) mean number of readings a cell.
    """
    p, n = faces, repeats
    weighed = [(1 / (p * n), table[1]), ((1 - 1 / p) / n, table[2])]
    return weighed if len(table) < 4 else [*weighed, (1 - 1 / n, table[3])]


def mean_square_sum(
    name: str, weighed: list[tuple[float, Source]], *, at_least: float
) -> Component:
    """Return a weighed sum of mean squares with its interval (Graybill and Wang 1980, from memory).

    Parameters
    ----------
    name : str
        Name of the component.
    weighed : list of (float, Source)
        Weights and rows, [-].
    at_least : float
        The sum of the parts after negative ones were set to zero, in squared shares.
    """
    raw = math.fsum(c * s.ms for c, s in weighed)
    low = raw - math.sqrt(math.fsum((_g(s.df) * c * s.ms) ** 2 for c, s in weighed))
    high = raw + math.sqrt(math.fsum((_h(s.df) * c * s.ms) ** 2 for c, s in weighed))
    # where a negative part was set to zero the estimate exceeds the plain sum
    estimate = max(raw, at_least)
    return Component(name, estimate, raw, max(0.0, low), max(high, estimate))


def _difference(name: str, one: Source, two: Source, scale: float) -> Component:
    """Interval of a difference of mean squares (Ting and others 1990, from memory)."""
    raw = scale * (one.ms - two.ms)
    tail = (1 - LEVEL) / 2
    upper, lower = _f(1 - tail, one.df, two.df), _f(tail, one.df, two.df)
    g1, h1, g2, h2 = _g(one.df), _h(one.df), _g(two.df), _h(two.df)
    g12 = ((upper - 1) ** 2 - (g1 * upper) ** 2 - h2**2) / upper
    h12 = ((1 - lower) ** 2 - (h1 * lower) ** 2 - g2**2) / lower
    a, b = one.ms, two.ms
    down = (g1 * a) ** 2 + (h2 * b) ** 2 + g12 * a * b
    up = (h1 * a) ** 2 + (g2 * b) ** 2 + h12 * a * b
    estimate = max(0.0, raw)
    low = max(0.0, raw - scale * math.sqrt(max(0.0, down)))
    high = max(estimate, raw + scale * math.sqrt(max(0.0, up)))
    return Component(name, estimate, raw, low, high)


_f = cache(f_quantile)


@cache
def _g(df: int) -> float:
    return 1 - df / chi2_quantile(1 - (1 - LEVEL) / 2, df)


@cache
def _h(df: int) -> float:
    return df / chi2_quantile((1 - LEVEL) / 2, df) - 1


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
