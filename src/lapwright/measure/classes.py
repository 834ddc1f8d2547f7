"""Say of every run how probable it is that it holds no filler.

What is known beforehand is little and robust: the filler of one face has one
colour, unknown but pale or coppery and not green; an open void shows what
surrounds the copper; residue may have any lightness, is often green and
rough, and every pocket may differ. Every run is tried as the filler in turn;
the answers are averaged by how well each explains all runs, so that two good
explanations give doubt instead of a guess.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .chain import run_chain
from .fillet import Fillet
from .hues import Dilution, Hues, Optics, absolute_hues, dilutions, mean_dilution, normal_density
from .runs import Run
from .settings import FaceSettings
from .walls import Outside, relative_colour

OPEN, RESIDUE = 1, 2  # columns of states; 0 is brazed
_SHADES = (0.8, 0.88, 0.95, 1.02, 1.08)


@dataclass(frozen=True)
class Classed:
    """Probability of being unbrazed per run under every supposition about the filler.

    ``weight`` (h,) says how well each supposition explains the line and sums to
    one; ``under`` (h, k) holds the probability of every run being unbrazed under
    it; ``main`` is the longest run.
    """

    weight: np.ndarray
    under: np.ndarray
    main: int

    @property
    def unbrazed(self) -> np.ndarray:
        """Probability that a run is unbrazed, shape (k,)."""
        return np.asarray(self.weight @ self.under)

    @property
    def rivalry(self) -> float:
        """Weight of the suppositions that call the longest run the other way.

        Near 0.5 nobody can tell filler from residue.
        """
        side = float(self.weight[self.under[:, self.main] > 0.5].sum())
        return min(side, 1 - side)

    def kept_in_doubt(self, low: float, high: float) -> Classed:
        """Return the same with no run surer than ``low`` to ``high``."""
        return replace(self, under=np.clip(self.under, low, high))


@dataclass(frozen=True)
class Known:
    """What is known of a face beside its runs.

    ``outside`` are the colours around the copper, ``copper`` (3,) its own in
    grey levels, ``optics`` the width of the gap and the blur, and ``fillet``
    what the filler looks like beyond the mouth, where that can be seen.
    """

    outside: Outside
    copper: np.ndarray
    optics: Optics
    fillet: Fillet | None = None


def class_runs(runs: list[Run], known: Known, *, steps: int, settings: FaceSettings) -> Classed:
    """Class runs as brazed, open or residue-filled.

    Parameters
    ----------
    runs : list of Run
        Runs in order from the tube end.
    known : Known
        What surrounds the gap; fill of thin gaps looks paler than it is.
    steps : int
        Number of steps of the whole line.
    settings : FaceSettings
        Numbers of the method.
    """
    view = _view(runs, known, steps, settings)
    some, none = _Suppositions([], []), _Suppositions([], [])
    for dilution, chance in dilutions(known.optics, settings):
        _suppose(view, known, dilution, chance, (some, none), settings)
    together = _same_pocket(view.colours, view.noise, view.length, settings)
    rates = settings.ending_rates
    filled = run_chain(np.stack(some.likely), together, np.outer(view.length, rates), settings)
    # without any filler nothing ends: a void of the whole overlap is no rarer than a short one
    slow = np.outer(view.length, rates[:1] * 3)
    empty = run_chain(np.stack(none.likely), together, slow, settings, filler="none")
    answers, evidence = (np.concatenate(pair) for pair in zip(filled, empty, strict=True))
    # neighbouring runs are not independent evidence; what is known beforehand keeps its full weight
    scores = settings.evidence_power * evidence + np.log(some.prior + none.prior)
    weight = np.exp(scores - scores.max())
    weight /= weight.sum()
    classed = Classed(weight, answers[:, :, OPEN:].sum(axis=2), int(view.length.argmax()))
    if _unlike_fillet(view, known, classed, settings) > 0.5:
        return classed.kept_in_doubt(0.2, 0.8)
    return classed


@dataclass(frozen=True)
class _Runs:
    """The runs as arrays, and what no dilution changes.

    ``length`` share of the line, ``colours`` (k, 3), ``noise`` (k, 3, 3), ``hidden`` chance of
    showing smear, ``smooth`` evenness; ``hues`` without copper's own, ``open_looks`` of an empty
    gap, ``rough`` gain of residue for texture, ``fillers`` tried.
    """

    length: np.ndarray
    colours: np.ndarray
    noise: np.ndarray
    hidden: np.ndarray
    smooth: np.ndarray
    hues: Hues
    open_looks: np.ndarray
    rough: np.ndarray
    fillers: list[_Filler]


@dataclass(frozen=True)
class _Filler:
    """Densities of all runs, (k,) each, when run ``seed`` is taken for the filler.

    ``alike`` as the same filler, ``smeared`` half hidden by dragged copper,
    ``more`` and ``less`` as a gap more or less than half filled with it.
    """

    alike: np.ndarray
    smeared: np.ndarray
    more: np.ndarray
    less: np.ndarray
    seed: int


def _view(runs: list[Run], known: Known, steps: int, settings: FaceSettings) -> _Runs:
    length = np.array([(run.end - run.start) / steps for run in runs])
    colours = np.stack([run.colour for run in runs])
    noise = np.stack([run.spread for run in runs])
    smooth = np.exp(-0.5 * (np.array([run.rough for run in runs]) / 0.06) ** 2)
    return _Runs(
        length,
        colours,
        noise,
        _hidden(colours, noise, length, runs),
        smooth,
        absolute_hues(colours, noise, known.copper),
        _open_looks(known.outside, known.copper),
        _rough_gain(runs, known.optics.gap_px, settings),
        _fillers(runs, length, known, settings),
    )


def _unlike_fillet(view: _Runs, known: Known, classed: Classed, settings: FaceSettings) -> float:
    """Return how much of what is called brazed looks like nothing that the fillet shows, [-]."""
    if known.fillet is None:
        return 0.0
    cover = np.diag(np.square(settings.fillet_nearness)) + view.noise
    weigh = np.linalg.inv(cover)
    nearest = np.full(view.length.size, np.inf)
    for dilution, _ in dilutions(known.optics, settings):
        gone = view.colours[:, None, :] - known.fillet.looks * np.array(dilution)
        square = np.einsum("kni,kij,knj->kn", gone, weigh, gone).min(axis=1)
        nearest = np.minimum(nearest, square)
    brazed = view.length * (1 - classed.unbrazed)
    return float(brazed @ (nearest > settings.fillet_far) / max(float(brazed.sum()), 1e-9))


@dataclass(frozen=True)
class _Suppositions:
    """Densities of all runs under every supposition, (k, 3) each, and its prior weight."""

    likely: list[np.ndarray]
    prior: list[float]

    def add(self, likely: np.ndarray, prior: float) -> None:
        self.likely.append(likely)
        self.prior.append(prior)


def _suppose(
    view: _Runs,
    known: Known,
    dilution: Dilution,
    chance: float,
    into: tuple[_Suppositions, _Suppositions],
    settings: FaceSettings,
) -> None:
    """Add what may be supposed under one dilution: of runs, of the fillet, of no filler at all."""
    some, none = into
    opened = _open(view.colours, view.noise, view.open_looks, dilution, settings)
    residue = view.hues.residue(dilution, settings) * view.rough
    count = len(view.fillers)
    tried, of_runs, no_filler = view.hues.filler(settings), 1.0, settings.prior_no_filler
    if known.fillet is not None:
        likeness, foot = settings.fillet_likeness, settings.filler_foot
        filler = _as_fillet(view, known.fillet, dilution, likeness=likeness, foot=foot)
        empty, whole = (
            view.open_looks * np.array(dilution),
            known.fillet.colour * np.array(dilution),
        )
        more, less = _partly(view.colours, view.noise, whole, empty, settings)
        more *= np.exp(-view.length / settings.pore_piece)
        some.add(
            _supposed([filler + more, opened + less, residue], view.hidden, seed=None),
            chance * settings.fillet_alike,
        )
        of_runs, no_filler = 1 - settings.fillet_alike, settings.prior_no_filler_by_fillet
        near = _as_fillet(view, known.fillet, dilution, likeness=settings.fillet_nearness)
        other = settings.fillet_other / of_runs
        tried = (1 - other) * near + other * tried
    for one in view.fillers:
        filler = one.alike.copy()
        filler[one.seed] = tried[one.seed]  # the run tried pays the prior
        states = [filler * view.smooth + one.smeared + one.more, opened + one.less, residue]
        some.add(_supposed(states, view.hidden, seed=one.seed), chance * of_runs / count)
    for even, one in zip(settings.residue_evenness, view.fillers, strict=False):  # the longest run
        whole = np.maximum(residue, one.alike)
        whole[one.seed] = residue[one.seed]
        if known.fillet is None and view.colours[one.seed, 0] < settings.dark_fill:
            no_filler = settings.prior_no_filler_if_dark
        voids = _voids_only(_supposed([whole, opened, whole], view.hidden, seed=None))
        none.add(voids, chance / count * even * no_filler)


def _fillers(
    runs: list[Run], length: np.ndarray, known: Known, settings: FaceSettings
) -> list[_Filler]:
    """Densities of all runs for every run tried as the filler, the longest run first."""
    colours = np.stack([run.colour for run in runs])
    noise = np.stack([run.spread for run in runs])
    empty = _open_looks(known.outside, known.copper) * mean_dilution(known.optics, settings)
    found = []
    for seed in _seeds(colours, noise, length, settings):
        smeared = _smeared(colours, noise, seed, length, settings)
        cover = noise + noise[seed]
        more, less = _partly(colours, cover, colours[seed], empty, settings)
        more *= np.exp(-length / settings.pore_piece)
        more[seed] = less[seed] = 0.0
        for spread in settings.filler_evenness:
            alike = _filler(colours, noise, seed, spread, settings)
            found.append(_Filler(alike, smeared, more, less, seed))
        two = _two_phase(colours, cover, colours[seed], length, settings)
        found.append(_Filler(two, smeared, more, less, seed))
    return found


def _two_phase(
    colours: np.ndarray,
    noise: np.ndarray,
    filler: np.ndarray,
    length: np.ndarray,
    settings: FaceSettings,
) -> np.ndarray:
    """Density of runs as filler of copper-rich grains in a paler ground: its look, more or less.

    Grains are small: only short pieces may show more or less of it.
    """
    cover = np.diag(np.square(0.5 * np.array(settings.class_floor))) + noise
    brief = np.exp(-length / settings.pocket_piece)
    total = np.zeros(len(colours))
    for part in settings.filler_phases:
        likely = normal_density(colours, part * filler, cover, foot=settings.filler_foot)
        total += likely * (1.0 if part == 1 else brief)
    return np.asarray(total / len(settings.filler_phases))


def _partly(
    colours: np.ndarray,
    noise: np.ndarray,
    filler: np.ndarray,
    empty: np.ndarray,
    settings: FaceSettings,
) -> tuple[np.ndarray, np.ndarray]:
    """Densities of runs as a gap more, and less, than half filled: pores and voids on one side.

    The core then shows a mixture of the filler's look (3,) and that of an empty gap (m, 3).
    """
    weigh = np.linalg.inv(np.diag(np.square(0.4 * np.array(settings.class_floor))) + noise)
    scale = np.sqrt(np.linalg.det(weigh) / (2 * np.pi) ** 3)
    densities = []
    for parts in settings.partly_open:
        looks = np.concatenate([(1 - part) * filler + part * empty for part in parts])
        gone = colours[:, None, :] - looks[None, :, :]
        square = np.einsum("kni,kij,knj->kn", gone, weigh, gone)
        densities.append(settings.partly_weight * scale * np.exp(-square / 2).mean(axis=1))
    more, less = densities
    return more, less


def _as_fillet(
    view: _Runs,
    fillet: Fillet,
    dilution: Dilution,
    *,
    likeness: tuple[float, float, float],
    foot: float = 0.0,
) -> np.ndarray:
    """Density of every run as filler of the looks that the fillet shows, paled by the gap."""
    paled = fillet.looks * np.array(dilution)
    cover = np.diag(np.square(likeness)) + view.noise
    gone = view.colours[:, None, :] - paled[None, :, :]
    square = np.einsum("kni,kij,knj->kn", gone, np.linalg.inv(cover), gone)
    scale = 1 / np.sqrt(np.linalg.det(2 * np.pi * cover))
    broad = foot * np.exp(-square.min(axis=1) / 18) / 27
    return np.asarray(scale * (np.exp(-square / 2).mean(axis=1) + broad))


def _supposed(states: list[np.ndarray], hidden: np.ndarray, *, seed: int | None) -> np.ndarray:
    """Densities of all runs in the three states under one supposition, shape (k, 3)."""
    likely = np.stack(states, axis=1)
    likely = (1 - hidden[:, None]) * likely + hidden[:, None] * 3.0
    if seed is not None:
        likely[seed, OPEN:] = 0.0
    return np.asarray(likely)


def _voids_only(likely: np.ndarray) -> np.ndarray:
    """Return densities under "there is no filler at all"."""
    likely[:, 0] = 0.0
    return likely


def _filler(
    colours: np.ndarray, noise: np.ndarray, seed: int, spread: float, settings: FaceSettings
) -> np.ndarray:
    """Density of each run under "filler looks like run ``seed``"."""
    floor = np.diag(np.square(spread * np.array(settings.class_floor)))
    cover = 1.5 * floor + noise + noise[seed]
    return normal_density(colours, colours[seed], cover, foot=settings.filler_foot)


def _smeared(
    colours: np.ndarray, noise: np.ndarray, seed: int, length: np.ndarray, settings: FaceSettings
) -> np.ndarray:
    """Density of short runs as filler half hidden by dragged copper: its look, paled."""
    cover = np.diag(np.square(0.4 * np.array(settings.class_floor))) + noise + noise[seed]
    paled = [
        normal_density(colours, part * colours[seed], cover, foot=0)
        for part in (0.3, 0.5, 0.7, 0.85)
    ]
    brief = (length < settings.smear_share) & (np.arange(len(colours)) != seed)
    return np.asarray(settings.smear_weight * brief * np.mean(paled, axis=0))


def _open(
    colours: np.ndarray,
    noise: np.ndarray,
    looks: np.ndarray,
    dilution: Dilution,
    settings: FaceSettings,
) -> np.ndarray:
    cover = np.diag(np.square(settings.open_spread)) + noise
    densities = [normal_density(colours, np.array(dilution) * look, cover) for look in looks]
    return np.asarray(np.mean(densities, axis=0))


def _rough_gain(runs: list[Run], gap_px: float, settings: FaceSettings) -> np.ndarray:
    """Factor for residue: it is rough within the gap, where the gap is wide enough to tell."""
    if gap_px < 5:
        return np.ones(len(runs))
    rough = np.array([run.texture for run in runs])
    gain = np.exp(-0.5 * ((rough - 0.9) / 0.8) ** 2) - np.exp(-0.5 * (rough / 0.6) ** 2)
    return np.asarray(np.exp(settings.texture_weight * gain))


def _same_pocket(
    colours: np.ndarray, noise: np.ndarray, length: np.ndarray, settings: FaceSettings
) -> np.ndarray:
    """Density of each run as one more piece of the residue before it, shape (k,).

    Without it a mottled pocket, cut to pieces, would be many independent
    surprises as residue, and as many agreements as filler. Pieces are short.
    """
    gone = colours[1:] - colours[:-1]
    near = noise[1:] + noise[:-1]
    density = [
        normal_density(gone, np.zeros(3), near + np.diag(np.square(spread)))
        for spread in settings.pocket_spreads
    ]
    brief = np.exp(-length[1:] / settings.pocket_piece)
    return np.concatenate([[0.0], brief * np.mean(density, axis=0)])


def _hidden(
    colours: np.ndarray, noise: np.ndarray, length: np.ndarray, runs: list[Run]
) -> np.ndarray:
    """Probability that a short run shows dragged copper or burnt light, not the gap.

    Dragged copper is copper (0), or a neighbour's look paled towards copper.
    """
    trust = np.array([run.trust for run in runs])
    cover = np.diag([0.035**2, 0.03**2, 0.018**2]) + noise
    weigh = np.linalg.inv(cover)
    count = len(runs)
    square = np.full(count, np.inf)
    for k in range(count):
        for other in {max(0, k - 1), min(count - 1, k + 1)} - {k}:
            look = colours[other]
            part = float(colours[k] @ look) / max(float(look @ look), 1e-9)
            gone = colours[k] - float(np.clip(part, 0, 0.5)) * look
            square[k] = min(square[k], float(gone @ weigh[k] @ gone))
    smeared = 0.35 * np.exp(-square / 2) * (length < 0.06)
    return np.asarray(np.clip(np.maximum(smeared, (trust < 0.5) * 0.999), 0.0005, 0.999))


def _open_looks(outside: Outside, copper: np.ndarray) -> np.ndarray:
    """What an open void may look like: the surroundings in several shades, or any grey."""
    if outside.colours:
        base = np.stack(outside.colours)
        return np.concatenate([_shaded(base, shade) for shade in _SHADES])
    greys = np.repeat(np.linspace(15, 225, 12)[:, None], 3, axis=1)
    return relative_colour(greys, copper)


def _shaded(looks: np.ndarray, shade: float) -> np.ndarray:
    """Darken a relative colour: ratios to copper are multiplied, then made relative again."""
    light, blue, green = looks.T
    red_ratio = 1 + light - blue / 2 - green / 3
    ratios = np.stack([red_ratio + blue, 1 + light + 2 * green / 3, red_ratio], axis=-1) * shade
    return _relative(ratios)


def _relative(ratios: np.ndarray) -> np.ndarray:
    change = ratios - 1
    blue, green, red = change.T
    return np.stack([(blue + green + red) / 3, blue - red, green - (red + blue) / 2], axis=-1)


def _seeds(
    colours: np.ndarray, noise: np.ndarray, length: np.ndarray, settings: FaceSettings
) -> list[int]:
    """Runs to try as the filler: the longest of every group that looks alike."""
    floor = np.diag(np.square(settings.class_floor))
    seeds: list[int] = []
    metal = colours[:, 0] > settings.darkest_filler  # a polished metal is never nearly black
    order = np.argsort(-length)
    for index in [k for k in order if metal[k]] or order[:1]:
        alike = 0
        for seed in seeds:
            gone = colours[index] - colours[seed]
            cover = floor + noise[index] + noise[seed]
            alike += int(gone @ np.linalg.solve(cover, gone) < 4)
        if not alike:
            seeds.append(int(index))
        if len(seeds) >= 8:
            break
    return seeds
