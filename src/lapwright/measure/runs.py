"""Cut the colour along the gap into runs of one look each.

Optimal partitioning of the whole series: the cut points are those of least
total misfit plus a price for every cut, so that ends are sharp and speckle
makes no runs of its own.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from .settings import FaceSettings
from .walls import Profile


@dataclass(frozen=True)
class Series:
    """Colour at equal steps along the line: (n, 3), noise covariance (3, 3) of one step.

    ``memory`` is how many steps the noise stays alike; ``texture`` and
    ``trust`` (n,) as in `Profile`.
    """

    colour: np.ndarray
    noise: np.ndarray
    memory: float
    texture: np.ndarray
    trust: np.ndarray


@dataclass(frozen=True)
class Run:
    """Steps ``start`` to ``end`` (exclusive) of one look: mean colour and its covariance.

    ``rough`` is the spread of lightness among the runs that were joined.
    """

    start: int
    end: int
    colour: np.ndarray
    spread: np.ndarray
    texture: float
    trust: float
    rough: float = 0.0


def thin_out(profile: Profile, settings: FaceSettings) -> Series:
    """Average the columns of a profile into at most ``most_positions`` equal steps."""
    colour = averaged(profile.colour, settings)
    shams = np.stack([averaged(line, settings) for line in profile.sham])
    noise, memory = _noise(colour, shams)
    texture, trust = (averaged(v, settings)[:, 0] for v in (profile.texture, profile.trust))
    return Series(colour, noise, memory, texture, trust)


def averaged(values: np.ndarray, settings: FaceSettings) -> np.ndarray:
    """Average columns (n,) or (n, 3) over at most ``most_positions`` equal steps, shape (k, -1)."""
    columns = values.shape[0]
    count = min(columns, settings.most_positions)
    edges = np.linspace(0, columns, count + 1).astype(int)
    sizes = np.diff(edges).astype(float)
    flat = values.reshape(columns, -1)
    return np.asarray(np.add.reduceat(flat, edges[:-1], axis=0) / sizes[:, None])


def _noise(colour: np.ndarray, shams: np.ndarray) -> tuple[np.ndarray, float]:
    """Return the noise covariance of one step and how many steps it stays alike."""
    flat = (shams - np.median(shams, axis=1, keepdims=True)).reshape(-1, 3)
    limit = 4 * np.median(np.abs(flat), axis=0) + 1e-4
    copper = np.cov(np.clip(flat, -limit, limit).T)
    jump = np.diff(colour, axis=0)
    inner = np.median(np.abs(jump), axis=0) / 0.6745 / np.sqrt(2)
    alike = _memory(shams[..., 0])
    ratio = np.maximum(inner * np.sqrt(alike) / np.sqrt(np.diag(copper)), 1.0)
    ratio = np.minimum(ratio, 6.0)
    return copper * np.outer(ratio, ratio) + np.diag([0.006**2, 0.006**2, 0.004**2]), alike


def _memory(lines: np.ndarray) -> float:
    """Sum of the autocorrelation of sham lines until it fades: effective steps per sample."""
    total = 1.0
    level = lines - lines.mean(axis=1, keepdims=True)
    power = float((level**2).mean()) + 1e-12
    for lag in range(1, min(25, lines.shape[1] // 4)):
        alike = float((level[:, lag:] * level[:, :-lag]).mean()) / power
        if alike < 0.15:
            break
        total += 2 * alike
    return total


def cut_runs(
    series: Series, settings: FaceSettings, *, edge_steps: float = 3.0, gap_px: float = 10.0
) -> list[Run]:
    """Partition the series into runs.

    Parameters
    ----------
    series : Series
        Colour along the line.
    settings : FaceSettings
        Numbers of the method.
    edge_steps : float, optional
        Runs up to this length that only mix their neighbours are edges.
    gap_px : float, optional
        Width of the gap, [px]; a thin one has lost its hue, which then joins nothing.

    Notes
    -----
    Least squares in the metric of the noise; price of a cut grows with the
    logarithm of the number of steps, as in the Bayesian information criterion.
    """
    points = _whiten(series)
    price = settings.cut_price * np.log(points.shape[0])
    cuts = drop_mixed_edges(series, _partition(points, series.memory, price), edge_steps)
    runs = [_run(series, a, b) for a, b in itertools.pairwise(cuts)]
    return join_mottled(runs, series, settings, gap_px=gap_px)


def shortest_seen(series: Series, kept: np.ndarray, settings: FaceSettings) -> float:
    """Return the shortest void of slight contrast that pays for its two cuts, [-] of the overlap.

    Parameters
    ----------
    series : Series
        Colour along the line, with its noise.
    kept : ndarray of float, shape (3,)
        Share of the contrast of a fill that blur leaves in the gap, per colour plane.
    settings : FaceSettings
        Price of a cut and contrast of a slight void.
    """
    steps = series.colour.shape[0]
    contrast = kept * settings.slight_void
    gain = float(contrast @ np.linalg.solve(series.noise, contrast)) / series.memory
    return float(2 * settings.cut_price * math.log(steps) / gain / steps)


def join_mottled(
    runs: list[Run], series: Series, settings: FaceSettings, *, gap_px: float
) -> list[Run]:
    """Join neighbouring runs of one hue that differ in lightness only.

    A pocket of residue is mottled and filler is grained; cut to pieces, each
    piece would look like evidence of its own for whatever it resembles.
    Short pieces may differ more than long ones.
    """
    short = settings.mottle_share * series.colour.shape[0]
    long = settings.known_share * series.colour.shape[0]
    groups: list[list[Run]] = []
    known: list[bool] = []
    for run in runs:
        seen = _seen_elsewhere(run, runs, long, settings)
        apart = (
            bool(known)
            and (seen or known[-1])
            and not _same_look(groups[-1][-1], run, settings)
            and not _shaded_alike(groups[-1][-1], run, settings)
        )
        known.append(seen)
        if groups and not apart and _one_look(groups[-1], run, short, settings, gap_px=gap_px):
            groups[-1].append(run)
        else:
            groups.append([run])
    joined: list[Run] = []
    for group in groups:
        mottled = len(group) >= settings.mottle_pieces or _alike(group, settings)
        joined += [_joined(group)] if mottled else group
    return joined


def _one_look(
    group: list[Run], b: Run, short: float, settings: FaceSettings, *, gap_px: float
) -> bool:
    """Whether a run may be of one material with those before: same hue, lightness near."""
    a = group[-1]
    if gap_px < settings.hue_gap_px and not _alike([*group, b], settings):
        return False
    brief = max(a.end - a.start, b.end - b.start) <= short
    gone = np.abs(_hue(a.colour) - _hue(b.colour))
    level = max(0.2, 1 + min(a.colour[0], b.colour[0]))
    noise = (2.0 if brief else 1.0) * np.sqrt(np.diag(a.spread + b.spread))[1:] / level
    hue = np.array(settings.mottle_hue if brief else settings.grain_hue) / min(1.0, level)
    light = settings.mottle_light if brief else settings.grain_light
    return bool((gone <= hue + noise).all() and abs(a.colour[0] - b.colour[0]) < light)


def _seen_elsewhere(run: Run, runs: list[Run], long: float, settings: FaceSettings) -> bool:
    """Whether runs of the very look of this one are long together: a material, not mottle."""
    alike = [other for other in runs if _same_look(run, other, settings)]
    return sum(other.end - other.start for other in alike) >= long


def _same_look(a: Run, b: Run, settings: FaceSettings) -> bool:
    near = 0.5 * np.array(settings.class_floor) + np.sqrt(np.diag(a.spread))
    return bool((np.abs(a.colour - b.colour) < near).all())


def _alike(group: list[Run], settings: FaceSettings) -> bool:
    light = [float(run.colour[0]) for run in group]
    return max(light) - min(light) < settings.class_floor[0]


def _shaded_alike(a: Run, b: Run, settings: FaceSettings) -> bool:
    """Whether two runs are equally light and of one hue, its noise apart."""
    gone = np.abs(a.colour - b.colour)[1:]
    noise = 2 * np.sqrt(np.diag(a.spread + b.spread))[1:]
    return _alike([a, b], settings) and bool((gone < settings.known_hue + noise).all())


def _hue(colour: np.ndarray) -> np.ndarray:
    """Logarithmic blue-to-red and green-to-mean ratios: the same in light and shade."""
    light, blueness, greenness = colour
    red = 1 + light - blueness / 2 - greenness / 3
    blue, green = red + blueness, 1 + light + 2 * greenness / 3
    logs = np.log(np.maximum([blue, green, red], 0.05))
    return np.array([logs[0] - logs[2], logs[1] - (logs[0] + logs[2]) / 2])


def _joined(group: list[Run]) -> Run:
    if len(group) == 1:
        return group[0]
    size = np.array([run.end - run.start for run in group], float)
    weight = size / size.sum()
    colours = np.stack([run.colour for run in group])
    colour = weight @ colours
    rough = float(np.sqrt(weight @ (colours[:, 0] - colour[0]) ** 2))
    spread = np.einsum("k,kij->ij", weight**2, np.stack([run.spread for run in group]))
    return Run(
        group[0].start,
        group[-1].end,
        colour,
        spread,
        float(weight @ [run.texture for run in group]),
        float(weight @ [run.trust for run in group]),
        rough,
    )


def drop_mixed_edges(series: Series, cuts: list[int], edge_steps: float) -> list[int]:
    """Replace short runs that are mixtures of their neighbours by one cut at the right place.

    Blur and rounded void ends make a few steps between two looks; the share of
    each neighbour in their colour says where the cut belongs.
    """
    kept = list(cuts)
    index = 1
    while index < len(kept) - 2:
        start, end = kept[index], kept[index + 1]
        place = None if end - start > edge_steps else _edge_place(series, kept, index)
        if place is None:
            index += 1
            continue
        kept[index : index + 2] = [place]
        index = max(1, index - 1)
    return _whole_ends(kept, edge_steps)


def _whole_ends(cuts: list[int], edge_steps: float) -> list[int]:
    """Give stubs at both ends, too short to read, to their neighbours."""
    kept = list(cuts)
    while len(kept) > 2 and kept[1] - kept[0] <= edge_steps:
        del kept[1]
    while len(kept) > 2 and kept[-1] - kept[-2] <= edge_steps:
        del kept[-2]
    return kept


def _edge_place(series: Series, cuts: list[int], index: int) -> int | None:
    before, start, end, after = cuts[index - 1 : index + 3]
    left = np.median(series.colour[before:start], axis=0)
    right = np.median(series.colour[end:after], axis=0)
    mixed = series.colour[start:end].mean(axis=0)
    step = left - right
    size = float(step @ step)
    if size < 1e-6:
        return (start + end) // 2
    part = float((mixed - right) @ step) / size
    rest = float(np.linalg.norm(mixed - right - part * step))
    noise = float(np.sqrt(np.trace(series.noise)))
    if not -0.2 <= part <= 1.2 or rest > 0.3 * np.sqrt(size) + 2 * noise:
        return None
    place = round(start + float(np.clip(part, 0, 1)) * (end - start))
    return min(max(place, before + 1), after - 1)


def _whiten(series: Series) -> np.ndarray:
    """Colour in units of noise, single steps that jump out held back."""
    root = np.linalg.cholesky(series.noise)
    points = np.linalg.solve(root, series.colour.T).T
    padded = np.pad(points, ((2, 2), (0, 0)), mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 5, axis=0)
    level = np.median(windows, axis=-1)
    return np.asarray(level + np.clip(points - level, -2.5, 2.5))


def _partition(points: np.ndarray, memory: float, price: float) -> list[int]:
    n = points.shape[0]
    sums = np.vstack([np.zeros(points.shape[1]), np.cumsum(points, axis=0)])
    squares = np.concatenate([[0.0], np.cumsum((points**2).sum(axis=1))])
    best = np.zeros(n + 1)
    best[0] = -price
    came = np.zeros(n + 1, np.int64)
    for j in range(1, n + 1):
        gone = sums[j] - sums[:j]
        misfit = squares[j] - squares[:j] - (gone * gone).sum(axis=1) / np.arange(j, 0, -1)
        total = best[:j] + misfit / memory + price
        came[j] = int(total.argmin())
        best[j] = total[came[j]]
    cuts = [n]
    while cuts[-1] > 0:
        cuts.append(int(came[cuts[-1]]))
    return cuts[::-1]


def _run(series: Series, start: int, end: int) -> Run:
    part = series.colour[start:end]
    inner = part[1:-1] if end - start > 4 else part  # edge steps mix two looks
    count = max(1.0, inner.shape[0] / series.memory)
    trust = float(series.trust[start:end].mean())
    texture = float(np.median(series.texture[start:end]))
    return Run(start, end, np.median(inner, axis=0), series.noise / count, texture, trust)
