"""A shop's method check: its own faces read by loupe and by the program.

The figures say how far the program's readings of these faces lay from the
shop's loupe readings, and how often the verdict was another one. The loupe has
an uncertainty of its own, which stands inside these figures; they say nothing
of other finishes, cameras or people.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from math import fsum, hypot

from .agreement import Agreement, limits_of_agreement
from .errors import MethodCheckRefused, NoLineRefused
from .kappa import Kappa, cohen_kappa
from .quantiles import clopper_pearson
from .trend import Trend, fit_trend

NEAR_LIMIT = (0.10, 0.30)  # loupe shares round the limit; common practice, no source
USUAL_LIMIT = 0.20  # largest unbrazed share (ASME BPVC IX, QB-182)
LEVEL_PLACES = 3  # shares nearer than a tenth of a point are one; common practice, no source
ROUNDING = 1e-12  # a mean of exact decimals may miss the limit by this much in binary


@dataclass(frozen=True)
class CheckedFace:
    """One face of a method check: shares by loupe and by the program, [-].

    ``intervals`` are the program's 95 % intervals where they were given; ``refused``
    counts the program's refusals of this face; ``loupe_reach`` are half the widths of the
    loupe readings' own 95 % intervals, of those that have one.
    """

    face: str
    loupe: tuple[float, ...]
    program: tuple[float, ...]
    intervals: tuple[tuple[float, float], ...] = ()
    refused: int = 0
    loupe_reach: tuple[float, ...] = ()

    @property
    def loupe_mean(self) -> float:
        """Mean of the loupe readings."""
        return fsum(self.loupe) / len(self.loupe)

    @property
    def program_mean(self) -> float:
        """Mean of the program's readings."""
        return fsum(self.program) / len(self.program)

    @property
    def covered(self) -> bool:
        """Whether every reading by the program has an interval and it holds the loupe mean.

        The interval is widened by the loupe mean's own, in quadrature (JCGM 100, 5.1.2).
        """
        loupe = hypot(*self.loupe_reach) / len(self.loupe)
        held = [_holds(span, self.loupe_mean, loupe) for span in self.intervals]
        return len(held) == len(self.program) and all(held)


@dataclass(frozen=True)
class Count:
    """So many of so many, with the exact 95 % interval of the share."""

    hits: int
    of: int

    @property
    def interval(self) -> tuple[float, float]:
        """Clopper and Pearson's interval."""
        return clopper_pearson(self.hits, self.of)


@dataclass(frozen=True)
class MethodFigures:
    """What a method check found: program less loupe, as shares of the overlap.

    ``refused`` counts the faces that the program refused each time; ``covered``
    the program's intervals that hold the face's mean loupe value, None without
    intervals; ``falsely_met`` and ``falsely_not_met`` are the faces on which the
    program's verdict was the kinder or the harder one, None without a limit.
    ``near_limit`` counts the faces whose every loupe value lies in ``NEAR_LIMIT``;
    ``met_over_limit`` those Met by the program and not by loupe, under
    ``USUAL_LIMIT`` or the limit given. ``trend`` is the bias as a function of the level,
    None where all faces lie at one level; ``bias_at_limit`` is read off its line at
    ``USUAL_LIMIT`` or the limit given, whichever is farther from zero, and
    ``half_width_at_limit`` the larger half-width there. ``over_limit`` and ``below_limit``
    count the faces on either side of the limit by loupe, the fewer under ``USUAL_LIMIT`` or
    the limit given, ``levels`` the loupe shares that differ by a tenth of a point, and
    ``held`` the faces whose widened intervals hold the loupe value; one without is not held.
    """

    agreement: Agreement
    names: tuple[str, ...]
    refused: Count
    covered: Count | None = None
    verdicts: Kappa | None = None
    falsely_met: tuple[str, ...] = field(default=())
    falsely_not_met: tuple[str, ...] = field(default=())
    near_limit: int = 0
    met_over_limit: int = 0
    trend: Trend | None = None
    bias_at_limit: float | None = None
    half_width_at_limit: float | None = None
    over_limit: int = 0
    below_limit: int = 0
    levels: int = 0
    held: Count = Count(0, 1)

    @property
    def faces(self) -> int:
        """Number of faces read by both."""
        return self.agreement.faces


def check_method(faces: Sequence[CheckedFace], *, limit: float | None = None) -> MethodFigures:
    """Compare the program's readings with the shop's loupe readings.

    Parameters
    ----------
    faces : sequence of CheckedFace
        Every face that was given to both, also those that the program refused.
    limit : float, optional
        Largest share that is Met, [-]; without it no verdicts are compared.

    Raises
    ------
    MethodCheckRefused
        If no face was given to both.
    StudyTooSmall
        With fewer than three faces read by both.
    """
    given = [f for f in faces if f.loupe and (f.program or f.refused)]
    if not given:
        raise MethodCheckRefused(
            "no face was read by loupe and given to the program",
            got="0 faces",
            expected="the same face ids in both",
            do="Have your faces read by loupe and by the program, and name them alike.",
        )
    both = [f for f in given if f.program]
    agreement = limits_of_agreement([f.program for f in both], [f.loupe for f in both])
    spans = [(f.loupe_mean, span) for f in both for span in f.intervals]
    covered = Count(sum(a <= mean <= b for mean, (a, b) in spans), len(spans)) if spans else None
    names = tuple(f.face for f in both)
    refused = Count(len(given) - len(both), len(given))
    low, high = NEAR_LIMIT
    near = sum(all(low <= v <= high for v in f.loupe) for f in both)
    kinder = sum(any(_kinder(f, at) for at in {USUAL_LIMIT, limit or USUAL_LIMIT}) for f in both)
    figures = MethodFigures(
        agreement, names, refused, covered, near_limit=near, met_over_limit=kinder
    )
    limits = {USUAL_LIMIT, limit or USUAL_LIMIT}
    figures = _with_spread(_with_trend(figures, limits), both, limits)
    if limit is None:
        return figures
    by_loupe = [verdict(f.loupe_mean, limit) for f in both]
    by_program = [verdict(f.program_mean, limit) for f in both]
    told = list(zip(names, by_loupe, by_program, strict=True))
    return replace(
        figures,
        verdicts=cohen_kappa(by_program, by_loupe),
        falsely_met=tuple(n for n, one, two in told if (one, two) == ("not-met", "met")),
        falsely_not_met=tuple(n for n, one, two in told if (one, two) == ("met", "not-met")),
    )


def _with_trend(figures: MethodFigures, limits: set[float]) -> MethodFigures:
    try:
        trend = fit_trend(figures.agreement)
    except NoLineRefused:
        return figures
    worst = max((trend.line.at(limit) for limit in sorted(limits)), key=abs)
    half = max(trend.half_width_at(limit) for limit in limits)
    return replace(figures, trend=trend, bias_at_limit=worst, half_width_at_limit=half)


def _with_spread(
    figures: MethodFigures, both: Sequence[CheckedFace], limits: set[float]
) -> MethodFigures:
    """Count where the faces lie by loupe, and those whose intervals hold the loupe value."""
    over = [sum(verdict(f.loupe_mean, at) == "not-met" for f in both) for at in limits]
    return replace(
        figures,
        over_limit=min(over),
        below_limit=len(both) - max(over),
        levels=len({round(f.loupe_mean, LEVEL_PLACES) for f in both}),
        held=Count(sum(f.covered for f in both), len(both)),
    )


def _holds(span: tuple[float, float], mean: float, reach: float) -> bool:
    low, high = span
    half = (high - low) / 2
    more = hypot(half, reach) - half + ROUNDING
    return low - more <= mean <= high + more


def _kinder(face: CheckedFace, limit: float) -> bool:
    """Whether the program meets a limit that the loupe does not."""
    told = verdict(face.loupe_mean, limit), verdict(face.program_mean, limit)
    return told == ("not-met", "met")


def verdict(share: float, limit: float) -> str:
    """Return ``met`` where the share is at most the limit, else ``not-met``.

    Parameters
    ----------
    share, limit : float
        Shares of the overlap, [-].
    """
    return "met" if share <= limit + ROUNDING else "not-met"
