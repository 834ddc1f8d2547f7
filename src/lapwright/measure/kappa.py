"""Agreement of verdicts beyond chance: Cohen's kappa for two, Fleiss' kappa for more.

Cohen 1960 with the large-sample interval of Fleiss, Cohen and Everitt 1969;
Fleiss 1971 (all from memory). Where everybody gives one and the same verdict on
every face, chance agrees as often as the readers do and kappa has no value: it
is ``None``, never 1.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

from .errors import StudyTooSmall

CATEGORIES = ("met", "not-met")


@dataclass(frozen=True)
class Kappa:
    """Agreement of verdicts on the same faces.

    ``agreed`` counts the faces on which all gave one verdict; ``observed`` and
    ``expected`` are the shares of agreeing pairs, seen and by chance. ``kappa`` is
    None where it has no value, ``interval`` also where none is given: with more than two
    readers, or where the large-sample interval has no width.
    """

    faces: int
    readers: int
    agreed: int
    observed: float
    expected: float
    kappa: float | None
    interval: tuple[float, float] | None


def cohen_kappa(first: Sequence[str], second: Sequence[str]) -> Kappa:
    """Cohen's kappa of two readers' verdicts.

    Parameters
    ----------
    first, second : sequence of str
        ``met`` or ``not-met`` for each face, the same faces in the same order.

    Raises
    ------
    StudyTooSmall
        Without a face.

    Examples
    --------
    >>> result = cohen_kappa(["met", "met", "not-met", "met"],
    ...                      ["met", "not-met", "not-met", "met"])
    >>> result.kappa
    0.5
    """
    n = _at_least_one(len(first))
    pairs = list(zip(first, second, strict=True))
    table = [[pairs.count((a, b)) / n for b in CATEGORIES] for a in CATEGORIES]
    rows = [sum(row) for row in table]
    columns = [sum(row[j] for row in table) for j in range(2)]
    agreed = sum(a == b for a, b in pairs)
    expected = sum(r * c for r, c in zip(rows, columns, strict=True))
    if 1 - expected < 1e-12:
        return Kappa(n, 2, agreed, agreed / n, expected, None, None)
    kappa = (agreed / n - expected) / (1 - expected)
    spread = _variance(table, rows, columns, kappa, expected)
    if spread < 1e-12:  # no disagreement, or one reader with one verdict: it has no width
        return Kappa(n, 2, agreed, agreed / n, expected, kappa, None)
    reach = NormalDist().inv_cdf(0.975) * math.sqrt(spread / n)
    interval = (max(-1.0, kappa - reach), min(1.0, kappa + reach))
    return Kappa(n, 2, agreed, agreed / n, expected, kappa, interval)


def fleiss_kappa(verdicts: Sequence[Sequence[str]]) -> Kappa:
    """Fleiss' kappa of several readers' verdicts; no interval is given.

    Parameters
    ----------
    verdicts : sequence of sequence of str
        For each face the verdict of every reader, ``met`` or ``not-met``.

    Raises
    ------
    StudyTooSmall
        Without a face, or with fewer than two readers.
    """
    n = _at_least_one(len(verdicts))
    m = len(verdicts[0])
    if m < 2:
        raise StudyTooSmall(
            "too few readers to agree",
            got=f"{m} reader(s)",
            expected="at least 2",
            do="Have the faces read by another reader.",
        )
    counts = [[list(row).count(c) for c in CATEGORIES] for row in verdicts]
    observed = math.fsum((sum(k * k for k in row) - m) / (m * (m - 1)) for row in counts) / n
    shares = [sum(row[j] for row in counts) / (n * m) for j in range(2)]
    expected = sum(s * s for s in shares)
    agreed = sum(max(row) == m for row in counts)
    if 1 - expected < 1e-12:
        return Kappa(n, m, agreed, observed, expected, None, None)
    return Kappa(n, m, agreed, observed, expected, (observed - expected) / (1 - expected), None)


def _variance(
    table: list[list[float]],
    rows: list[float],
    columns: list[float],
    kappa: float,
    expected: float,
) -> float:
    """Large-sample variance of kappa times the number of faces."""
    both = range(2)
    same = sum(table[i][i] * (1 - (rows[i] + columns[i]) * (1 - kappa)) ** 2 for i in both)
    other = (1 - kappa) ** 2 * sum(
        table[i][j] * (columns[i] + rows[j]) ** 2 for i in both for j in both if i != j
    )
    return (same + other - (kappa - expected * (1 - kappa)) ** 2) / (1 - expected) ** 2


def _at_least_one(faces: int) -> int:
    if faces < 1:
        raise StudyTooSmall(
            "no face that all have read",
            got="0 faces",
            expected="at least 1",
            do="Have the same faces read by all.",
        )
    return faces
