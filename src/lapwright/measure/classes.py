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
from .fillers import Filler, open_looks, partly_filled, try_fillers
from .fillet import Fillet
from .hues import Dilution, Hues, Optics, absolute_hues, dilutions, mean_dilution, normal_density
from .runs import Run
from .settings import FaceSettings
from .walls import Outside

OPEN, RESIDUE = 1, 2  # columns of states; 0 is brazed


@dataclass(frozen=True)
class Classed:
    """Probability of being unbrazed per run under every supposition about the filler.

    ``weight`` (h,) says how well each supposition explains the line and sums to
    one; ``under`` (h, k) holds the probability of every run being unbrazed under
    it; ``main`` is the longest run; ``unlike_fillet`` is the share of the overlap
    that is called brazed and hardly looks like the fillet.
    """

    weight: np.ndarray
    under: np.ndarray
    main: int
    unlike_fillet: float = 0.0

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
    return _beside_fillet(classed, view, known, settings)


@dataclass(frozen=True)
class _Runs:
    """The runs as arrays, and what no dilution changes.

    ``length`` share of the line, ``colours`` (k, 3), ``noise`` (k, 3, 3), ``hidden`` chance of
    showing smear, ``uneven`` spread of lightness; ``hues`` without copper's own, ``open_looks`` of
    an empty gap, ``rough`` gain of residue for texture, ``fillers`` tried.
    """

    length: np.ndarray
    colours: np.ndarray
    noise: np.ndarray
    hidden: np.ndarray
    uneven: np.ndarray
    hues: Hues
    open_looks: np.ndarray
    rough: np.ndarray
    fillers: list[Filler]


def _view(runs: list[Run], known: Known, steps: int, settings: FaceSettings) -> _Runs:
    length = np.array([(run.end - run.start) / steps for run in runs])
    colours = np.stack([run.colour for run in runs])
    noise = np.stack([run.spread for run in runs])
    uneven = np.array([run.rough for run in runs])
    looks = open_looks(known.outside, known.copper)
    empty = looks * mean_dilution(known.optics, settings)
    return _Runs(
        length,
        colours,
        noise,
        _hidden(colours, noise, length, runs),
        uneven,
        absolute_hues(colours, noise, known.copper),
        looks,
        _rough_gain(runs, known.optics.gap_px, settings),
        try_fillers(colours, noise, length, empty, settings),
    )


def _beside_fillet(classed: Classed, view: _Runs, known: Known, settings: FaceSettings) -> Classed:
    """Return less sure classes where runs called brazed do not look like the fillet.

    One such run is unsure by itself. Where they are most of what is called brazed, the filler of
    the line is another than that of the fillet, and nothing is sure.
    """
    far = _far_from_fillet(view, known, settings)
    brazed = view.length * (1 - classed.unbrazed)
    unlike = float(brazed @ (far > settings.fillet_far) / max(float(brazed.sum()), 1e-9))
    if unlike > 0.5:
        return classed.kept_in_doubt(0.2, 0.8)
    doubted = np.where(far > settings.fillet_far, settings.least_doubt, 0.0)
    hardly = float(brazed @ (far > settings.fillet_hardly))
    return replace(classed, under=np.maximum(classed.under, doubted), unlike_fillet=hardly)


def _far_from_fillet(view: _Runs, known: Known, settings: FaceSettings) -> np.ndarray:
    """Squared distance of every run from the middle look of the fillet, in spreads, shape (k,).

    The nearest dilution counts. The middle is asked, not the nearest spot: among many spots of
    a fillet some always show its rim, which resembles anything between two materials.
    """
    if known.fillet is None:
        return np.zeros(view.length.size)
    own = np.square(settings.fillet_nearness) + np.square(known.fillet.spread)
    weigh = np.linalg.inv(np.diag(own) + view.noise)
    paled = np.stack(
        [known.fillet.colour * np.array(d) for d, _ in dilutions(known.optics, settings)]
    )
    gone = view.colours[:, None, :] - paled[None, :, :]
    return np.asarray(np.einsum("kni,kij,knj->kn", gone, weigh, gone).min(axis=1))


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
        smooth = _evenness(view.uneven, float(known.fillet.spread[0]))
        empty, whole = (
            view.open_looks * np.array(dilution),
            known.fillet.colour * np.array(dilution),
        )
        more, less = partly_filled(view.colours, view.noise, whole, empty, settings)
        more *= np.exp(-view.length / settings.pore_piece)
        some.add(
            _supposed([filler * smooth + more, opened + less, residue], view.hidden, seed=None),
            chance * settings.fillet_alike,
        )
        of_runs, no_filler = 1 - settings.fillet_alike, settings.prior_no_filler_by_fillet
        near = _as_fillet(view, known.fillet, dilution, likeness=settings.fillet_nearness)
        other = settings.fillet_other / of_runs
        tried = (1 - other) * near + other * tried
    for one in view.fillers:
        filler = one.alike.copy()
        filler[one.seed] = tried[one.seed]  # the run tried pays the prior
        states = [
            filler * _evenness(view.uneven) + one.smeared + one.more,
            opened + one.less,
            residue,
        ]
        some.add(_supposed(states, view.hidden, seed=one.seed), chance * of_runs / count)
    for even, one in zip(settings.residue_evenness, view.fillers, strict=False):  # the longest run
        whole = np.maximum(residue, one.alike)
        whole[one.seed] = residue[one.seed]
        if known.fillet is None and view.colours[one.seed, 0] < settings.dark_fill:
            no_filler = settings.prior_no_filler_if_dark
        voids = _voids_only(_supposed([whole, opened, whole], view.hidden, seed=None))
        none.add(voids, chance / count * even * no_filler)


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


def _evenness(uneven: np.ndarray, own: float = 0.0) -> np.ndarray:
    """Factor for filler: it is even, or no less so than the filler's ``own`` scatter."""
    return np.asarray(np.exp(-0.5 * uneven**2 / (0.06**2 + own**2)))


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
