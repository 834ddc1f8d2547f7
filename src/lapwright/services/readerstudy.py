"""The use case of ``lapwright readers``: one file of readings, every figure it allows.

Each part of the study is given or says in one coded line why it is not; nothing
is filled in, and no reading is left out. The gauge study, the agreement of
readers, their verdicts and their drift use the loupe readings; the method check
compares these with the program's.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from math import fsum
from pathlib import Path
from statistics import median
from typing import TypeVar

from lapwright.core.errors import LapwrightError
from lapwright.measure.agreement import Agreement, limits_of_agreement
from lapwright.measure.cusum import ReaderChart, chart_reader
from lapwright.measure.deming import Deming, fit_deming
from lapwright.measure.drift import Drift, fit_drift
from lapwright.measure.errors import MethodCheckRefused, StudyLimitRefused, StudyTooSmall
from lapwright.measure.gauge import GaugeStudy, study_gauge
from lapwright.measure.kappa import Kappa, cohen_kappa, fleiss_kappa
from lapwright.measure.methodcheck import CheckedFace, MethodFigures, check_method, verdict
from lapwright.measure.trend import Trend, fit_trend

from .errors import CaseFileRefused
from .readingsfile import AS_FILED, LOUPE, PROGRAM, Readings, Row, parse_share, read_readings
from .readingsrows import refuse_repeats

T = TypeVar("T")


@dataclass(frozen=True)
class Asked:
    """What the person states beside the file; nothing has a default figure.

    ``limit`` is the largest share that is Met; ``max_bias`` and ``max_half_width``
    are the shop's limits for its method check; ``method`` the program's method
    version where the file does not name it; ``program`` the reader id that stands
    for the program in a file without the column ``way``. ``rows`` is ``as-filed`` only where
    a check of an older form is made again.
    """

    limit: Decimal | None = None
    max_bias: Decimal | None = None
    max_half_width: Decimal | None = None
    method: str = ""
    program: str = ""
    rows: str = "strict"


@dataclass(frozen=True)
class Pair:
    """Two readers with their limits of agreement and, with a limit, their kappa.

    ``trend`` is the bias as a function of the level, ``line`` the errors-in-variables
    check on it; both None where there is no agreement to judge.
    """

    first: str
    second: str
    agreement: Agreement | LapwrightError
    kappa: Kappa | LapwrightError | None
    trend: Trend | LapwrightError | None = None
    line: Deming | LapwrightError | None = None


@dataclass(frozen=True)
class Checked:
    """A method check with the method version it is of, and Deming's line beside it."""

    method: str
    figures: MethodFigures
    line: Deming | LapwrightError


@dataclass(frozen=True)
class Study:
    """Everything that a file of readings allows; a part may be a refusal.

    ``together`` is Fleiss' kappa of three or more readers; ``charts`` are the readers'
    cumulative sums; ``check`` is None in a file without a reading by the program.
    """

    readings: Readings
    asked: Asked
    gauge: GaugeStudy | LapwrightError
    pairs: tuple[Pair, ...]
    together: Kappa | LapwrightError | None
    drifts: tuple[tuple[str, Drift | LapwrightError], ...]
    check: Checked | LapwrightError | None
    charts: tuple[tuple[str, ReaderChart | LapwrightError], ...] = ()


def share_option(text: str, name: str) -> Decimal:
    """Return a limit that a person stated.

    Parameters
    ----------
    text : str
        Such as ``0.20`` or ``20 %``.
    name : str
        The option, for messages.

    Raises
    ------
    StudyLimitRefused
        Unless it is a share above 0 and below 1.
    """
    value = parse_share(text)
    if value is None or not 0 < value < 1:
        raise StudyLimitRefused(
            "a limit that is no share of the overlap",
            got=text,
            where=name,
            expected="a fraction like 0.20 or a percentage like 20 %, above 0 and below 1",
            do="Write the figure of your adopted rule or of your shop.",
        )
    return value


def open_readings(path: Path, *, program: str = "") -> Readings:
    """Read a file of readings from disk.

    Parameters
    ----------
    path : Path
        The CSV.
    program : str, optional
        Reader id that stands for the program.

    Raises
    ------
    LapwrightError
        CASE-005 for a file that cannot be read, MEAS-040 and MEAS-041 for what it holds.
    """
    try:
        data = path.read_bytes()
    except OSError as fault:
        raise CaseFileRefused(
            "readings that cannot be read",
            got=str(path),
            expected="a readable CSV file",
            do=f"Correct the name ({fault.strerror}).",
        ) from fault
    return read_readings(data, path.name, program=program)


def study_readers(readings: Readings, asked: Asked) -> Study:
    """Study a file of readings.

    Parameters
    ----------
    readings : Readings
        The rows.
    asked : Asked
        Limits and names stated by the person.

    Raises
    ------
    LapwrightError
        The first refusal, when no part of the study can be given.
    """
    loupe = readings.by(LOUPE)
    readers = list(dict.fromkeys(r.reader for r in loupe))
    gauge = _or_refusal(lambda: study_gauge(_cells(loupe)))
    pairs = tuple(_pair(loupe, a, b, asked.limit) for a, b in itertools.combinations(readers, 2))
    study = Study(
        readings,
        asked,
        gauge,
        pairs,
        _together(loupe, readers, asked.limit),
        _drifts(loupe, readers),
        _or_refusal(lambda: _check(readings, asked)) if readings.by(PROGRAM) else None,
        _charts(loupe, readers),
    )
    _something(study)
    return study


def _something(study: Study) -> None:
    """Raise the refusal that matters most when no part of the study can be given."""
    parts: list[object] = [study.check, study.gauge, study.together]
    parts += [part for p in study.pairs for part in (p.agreement, p.kappa)]
    parts += [drift for _, drift in study.drifts]
    refusals = [p for p in parts if isinstance(p, LapwrightError)]
    if len(refusals) == sum(p is not None for p in parts):
        raise refusals[0]


def _or_refusal(make: Callable[[], T]) -> T | LapwrightError:
    try:
        return make()
    except LapwrightError as refusal:
        return refusal


def _cells(rows: Sequence[Row]) -> dict[tuple[str, str], list[float]]:
    cells: dict[tuple[str, str], list[float]] = {}
    for r in rows:
        cells.setdefault((r.face, r.reader), []).append(r.value)
    return cells


def _pair(rows: Sequence[Row], first: str, second: str, limit: Decimal | None) -> Pair:
    cells = _cells(rows)
    faces = [f for f in dict.fromkeys(r.face for r in rows) if (f, first) in cells]
    both = [f for f in faces if (f, second) in cells]
    one, two = [cells[f, first] for f in both], [cells[f, second] for f in both]
    agreement = _or_refusal(lambda: limits_of_agreement(one, two))
    pair = Pair(first, second, agreement, None)
    if isinstance(agreement, Agreement):
        trend = _or_refusal(partial(fit_trend, agreement))
        pair = replace(pair, trend=trend, line=_or_refusal(partial(fit_deming, one, two)))
    if limit is None:
        return pair
    told = [_verdicts(rows, reader, both, float(limit)) for reader in (first, second)]
    return replace(pair, kappa=_or_refusal(lambda: cohen_kappa(told[0], told[1])))


def _together(
    rows: Sequence[Row], readers: Sequence[str], limit: Decimal | None
) -> Kappa | LapwrightError | None:
    if limit is None or len(readers) < 3:
        return None
    cells = _cells(rows)
    faces = [
        f for f in dict.fromkeys(r.face for r in rows) if all((f, r) in cells for r in readers)
    ]
    if not faces:
        return _none_by_all()
    told = [_verdicts(rows, reader, faces, float(limit)) for reader in readers]
    return _or_refusal(lambda: fleiss_kappa(list(zip(*told, strict=True))))


def _none_by_all() -> StudyTooSmall:
    return StudyTooSmall(
        "no face that all have read",
        got="0 faces",
        expected="at least 1",
        do="Have the same faces read by all.",
    )


def _verdicts(rows: Sequence[Row], reader: str, faces: Sequence[str], limit: float) -> list[str]:
    """Return the verdicts of a reader's first readings (lowest reading number)."""
    first: dict[str, Row] = {}
    for r in rows:
        if r.reader == reader and (r.face not in first or r.reading < first[r.face].reading):
            first[r.face] = r
    return [verdict(first[f].value, limit) for f in faces]


def _drifts(
    rows: Sequence[Row], readers: Sequence[str]
) -> tuple[tuple[str, Drift | LapwrightError], ...]:
    if len(readers) < 2:
        return ()
    return tuple((name, _or_refusal(partial(_drift, rows, name))) for name in readers)


def _drift(rows: Sequence[Row], reader: str) -> Drift:
    return fit_drift(*_apart(rows, reader, _mean))


def _charts(
    rows: Sequence[Row], readers: Sequence[str]
) -> tuple[tuple[str, ReaderChart | LapwrightError], ...]:
    if len(readers) < 2:
        return ()
    return tuple(
        (name, _or_refusal(partial(chart_reader, *_apart(rows, name, median)))) for name in readers
    )


def _apart(
    rows: Sequence[Row], reader: str, middle: Callable[[Sequence[float]], float]
) -> tuple[list[int], list[float]]:
    """Return the days and a reader's differences from the middle of the others on each face."""
    others: dict[str, list[float]] = {}
    for (face, who), values in _cells(rows).items():
        if who != reader:  # each other reader weighs alike, however often they read
            others.setdefault(face, []).append(_mean(values))
    mine: dict[tuple[str, int], list[float]] = {}
    for r in rows:
        if r.reader == reader and r.on is not None and r.face in others:
            mine.setdefault((r.face, r.on.toordinal()), []).append(r.value)
    differences = [_mean(values) - middle(others[face]) for (face, _), values in mine.items()]
    return [day for _, day in mine], differences


def _mean(values: Sequence[float]) -> float:
    return fsum(values) / len(values)


def _check(readings: Readings, asked: Asked) -> Checked:
    limit = float(asked.limit) if asked.limit is not None else None
    if asked.rows != AS_FILED:
        refuse_repeats(readings)
    faces = _checked_faces(readings)
    figures = check_method(faces, limit=limit)
    both = [f for f in faces if f.loupe and f.program]
    line = _or_refusal(lambda: fit_deming([f.program for f in both], [f.loupe for f in both]))
    return Checked(_method(readings, asked), figures, line)


def _checked_faces(readings: Readings) -> list[CheckedFace]:
    faces = []
    by_face: dict[str, list[Row]] = {}
    for r in readings.rows:
        by_face.setdefault(r.face, []).append(r)
    for face, mine in by_face.items():
        read = [r for r in mine if r.way == PROGRAM and r.share is not None]
        spans = tuple(
            (float(r.low), float(r.high)) for r in read if r.low is not None and r.high is not None
        )
        faces.append(
            CheckedFace(
                face,
                tuple(r.value for r in mine if r.way == LOUPE),
                tuple(r.value for r in read),
                spans,
                sum(1 for r in mine if r.refused),
                tuple(_reach(r) for r in mine if r.way == LOUPE and r.low is not None),
            )
        )
    return faces


def _reach(r: Row) -> float:
    assert r.low is not None  # both ends are given or neither
    assert r.high is not None
    return float(r.high - r.low) / 2


def _method(readings: Readings, asked: Asked) -> str:
    """Return the one method version of the program's readings; empty when nobody names it."""
    named = {r.method for r in readings.by(PROGRAM) if not r.refused or r.method}
    named = {asked.method} if named <= {""} else named
    if len(named) > 1 or (asked.method and named != {asked.method}):
        raise MethodCheckRefused(
            "the program's readings do not come from one method version",
            got=", ".join(sorted(m or "none named" for m in named | {asked.method} - {""})),
            where=readings.name,
            expected="one method version in every row of the program",
            do="Read all faces with one version of the program, and name it alike.",
        )
    return next(iter(named), "")
