"""Say of every run how probable it is that it holds no filler.

What is known beforehand is little and robust: the filler of one face has one
colour, unknown but pale or coppery and not green; an open void shows what
surrounds the copper; residue may have any lightness, is often green and
rough, and every pocket may differ. Every run is tried as the filler in turn;
the answers are averaged by how well each explains all runs, so that two good
explanations give doubt instead of a guess.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from .runs import Run
from .settings import FaceSettings
from .walls import Outside, relative_colour

Dilution = tuple[float, float, float]
BRAZED, OPEN, RESIDUE = 0, 1, 2
_SHADES = (0.8, 0.88, 0.95, 1.02, 1.08)


@dataclass(frozen=True)
class Classed:
    """Probability of each state per run, shape (k, 3), and how settled the filler is.

    ``rivalry`` is the summed weight of explanations that call the longest
    agreed runs the other way; near 0.5 nobody can tell filler from residue.
    """

    probability: np.ndarray
    rivalry: float

    @property
    def unbrazed(self) -> np.ndarray:
        """Probability that a run is unbrazed, shape (k,)."""
        return np.asarray(self.probability[:, OPEN] + self.probability[:, RESIDUE])


def class_runs(
    runs: list[Run],
    outside: Outside,
    copper: np.ndarray,
    *,
    gap_px: float,
    blur_px: float,
    steps: int,
    settings: FaceSettings,
) -> Classed:
    """Class runs as brazed, open or residue-filled.

    Parameters
    ----------
    runs : list of Run
        Runs in order from the tube end.
    outside : Outside
        Colours around the copper, relative to it.
    copper : ndarray of float, shape (3,)
        Copper colour in grey levels, for the look of a neutral resin not in view.
    gap_px : float
        Width of the gap, [px]; fill of thin gaps looks paler than it is.
    blur_px : float
        Blur of the picture (sigma), [px]; with the width it says how much paler.
    steps : int
        Number of steps of the whole line.
    settings : FaceSettings
        Numbers of the method.
    """
    colours = np.stack([run.colour for run in runs])
    noise = np.stack([run.spread for run in runs])
    length = np.array([(run.end - run.start) / steps for run in runs])
    hidden = _hidden(colours, noise, length, runs)
    hues = absolute_hues(colours, noise, copper)
    smooth = np.exp(-0.5 * (np.array([run.rough for run in runs]) / 0.06) ** 2)
    together = _same_pocket(colours, noise)
    looks = _open_looks(outside, copper)
    rough = _rough_gain(runs, gap_px, settings)
    scores, answers = [], []
    seeds = _seeds(colours, noise, length, settings)
    for dilution in dilutions(gap_px, blur_px, settings):
        other = [
            _open(colours, noise, looks, dilution, settings),
            hues.residue(dilution, settings) * rough,
        ]
        for seed, spread in [*itertools.product(seeds, settings.filler_evenness), (None, 1.0)]:
            filler = _filler(colours, noise, seed, spread, hues, settings) * smooth
            likely = np.stack([filler, *other], axis=1)
            likely = (1 - hidden[:, None]) * likely + hidden[:, None] * 3.0
            prior = 1.0 / len(seeds) / len(settings.filler_evenness)
            if seed is None:  # the supposition: there is no filler at all
                likely[:, 0] = 0.0
                prior = settings.prior_no_filler
            else:  # the supposition: this run is filler
                likely[seed, 1:] = 0.0
            posterior, evidence = _chain(likely, together, length, settings)
            scores.append(evidence + np.log(prior))
            answers.append(posterior)
    weight = np.exp(settings.evidence_power * (np.array(scores) - max(scores)))
    weight /= weight.sum()
    probability = np.einsum("h,hks->ks", weight, np.stack(answers))
    unbrazed = np.stack(answers)[:, :, 1:].sum(axis=2)
    main = int(length.argmax())
    side = float(weight[unbrazed[:, main] > 0.5].sum())
    return Classed(probability, min(side, 1 - side))


def _normal(
    colours: np.ndarray, centre: np.ndarray, cover: np.ndarray, *, foot: float = 0.07
) -> np.ndarray:
    """Density of a normal with a broad foot, per row; ``cover`` (k, 3, 3)."""
    gone = colours - centre
    square = np.einsum("ki,kij,kj->k", gone, np.linalg.inv(cover), gone)
    scale = 1 / np.sqrt(np.linalg.det(2 * np.pi * cover))
    broad = np.exp(-square / 18) / 27
    return np.asarray(scale * ((1 - foot) * np.exp(-square / 2) + foot * broad))


def _filler(
    colours: np.ndarray,
    noise: np.ndarray,
    seed: int | None,
    spread: float,
    hues: Hues,
    settings: FaceSettings,
) -> np.ndarray:
    """Density of each run under "filler looks like run ``seed``"; the seed pays the prior."""
    if seed is None:
        return np.zeros(len(colours))
    floor = np.diag(np.square(spread * np.array(settings.class_floor)))
    cover = 1.5 * floor + noise + noise[seed]
    likely = _normal(colours, colours[seed], cover, foot=settings.filler_foot)
    likely[seed] = hues.filler(settings)[seed]
    return np.asarray(likely)


@dataclass(frozen=True)
class Hues:
    """Looks of the runs without the hue of the copper beside them, shape (k, 3).

    Lightness beside copper; blueness as the logarithm of blue to red; greenness
    above pale copper. Brazing filler lies between copper and silver, so its hue
    is copper's, paled; residue is grey to green. Beside a copper poor in green
    even silver looks green, which is why the hue itself is judged here.
    ``base`` is the blueness of copper.
    """

    looks: np.ndarray
    cover: np.ndarray
    scale: np.ndarray
    base: float

    def filler(self, settings: FaceSettings) -> np.ndarray:
        """Density of each run as filler of unknown colour."""
        light, paled, green = settings.filler_centre
        prior = np.diag(np.square(settings.filler_spread))
        centre = np.array([light, paled * self.base, green])
        return np.asarray(self.scale * _normal(self.looks, centre, prior + self.cover))

    def residue(self, dilution: Dilution, settings: FaceSettings) -> np.ndarray:
        """Density of each run as a pocket of residue of its own."""
        light, blue, green = np.array(settings.residue_centre) * dilution
        prior = np.diag(np.square(settings.residue_spread))
        centre = np.array([light, blue + (1 - dilution[1]) * self.base, green])
        return np.asarray(self.scale * _normal(self.looks, centre, prior + self.cover))


def absolute_hues(colours: np.ndarray, noise: np.ndarray, copper: np.ndarray) -> Hues:
    """Take the hue of the copper out of relative colours.

    Parameters
    ----------
    colours : ndarray of float, shape (k, 3)
        Lightness, blueness, greenness relative to copper.
    noise : ndarray of float, shape (k, 3, 3)
        Their covariance.
    copper : ndarray of float, shape (3,)
        Copper, grey levels, blue green red.
    """
    light, blueness, greenness = colours.T
    red = 1 + light - blueness / 2 - greenness / 3
    ratios = np.stack([red + blueness, 1 + light + 2 * greenness / 3, red], axis=-1)
    logs = np.log(np.maximum(ratios * copper, 4.0))
    own = np.log(np.maximum(copper, 4.0))
    blue, base = logs[:, 0] - logs[:, 2], min(float(own[0] - own[2]), -0.05)
    paled = np.clip(blue / base, 0.0, 1.2)
    green = logs[:, 1] - (logs[:, 0] + logs[:, 2]) / 2
    above = green - paled * float(own[1] - (own[0] + own[2]) / 2)
    level = np.clip(1 + light, 0.2, 2.0)
    shrink = np.stack([np.ones_like(level), 1 / level, 1 / level], axis=-1)
    cover = noise * shrink[:, :, None] * shrink[:, None, :]
    return Hues(np.stack([light, blue, above], axis=-1), cover, level**-2, base)


def _open(
    colours: np.ndarray,
    noise: np.ndarray,
    looks: np.ndarray,
    dilution: Dilution,
    settings: FaceSettings,
) -> np.ndarray:
    cover = np.diag(np.square(settings.open_spread)) + noise
    densities = [_normal(colours, np.array(dilution) * look, cover) for look in looks]
    return np.asarray(np.mean(densities, axis=0))


def _rough_gain(runs: list[Run], gap_px: float, settings: FaceSettings) -> np.ndarray:
    """Factor for residue: it is rough within the gap, where the gap is wide enough to tell."""
    if gap_px < 5:
        return np.ones(len(runs))
    rough = np.array([run.texture for run in runs])
    gain = np.exp(-0.5 * ((rough - 0.9) / 0.8) ** 2) - np.exp(-0.5 * (rough / 0.6) ** 2)
    return np.asarray(np.exp(settings.texture_weight * gain))


def _same_pocket(colours: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Density of each run as one more piece of the residue before it, shape (k,).

    Without it a mottled pocket, cut to pieces, would be many independent
    surprises as residue, and as many agreements as filler.
    """
    cover = np.diag([0.09**2, 0.06**2, 0.035**2]) + noise[1:] + noise[:-1]
    density = [
        _normal((b - a)[None], np.zeros(3), c[None])[0]
        for a, b, c in zip(colours[:-1], colours[1:], cover, strict=True)
    ]
    return np.array([0.0, *density])


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


def dilutions(gap_px: float, blur_px: float, settings: FaceSettings) -> list[Dilution]:
    """How much of the true contrast may be left in the core of the gap, in lightness and colour.

    A gap of width *w* under a blur of sigma *b* keeps, at *x* from its middle,
    ``Phi((w/2 - x)/b) - Phi((-w/2 - x)/b)`` of its contrast. The measured width
    holds some of the blur, so narrower ones are tried too; JPEG files keep
    colour at half the resolution, which is a further blur of about a pixel.
    """
    reach = max(0.3, settings.core_of_gap / 2 * gap_px)
    blur = max(0.5, blur_px)
    found = []
    for narrower in (0.0, 0.8, 1.6):
        width = max(1.2, gap_px - narrower)
        light = _kept(width, blur, reach)
        for coded in (0.5, 1.3):
            colour = _kept(width, math.hypot(blur, coded), reach)
            found.append((light, colour, colour))
    return found


def _kept(width: float, blur: float, reach: float) -> float:
    """Share of the contrast of a gap left in its core, averaged over the core."""
    places = [reach * k / 4 for k in range(-4, 5)]
    side = blur * math.sqrt(2)
    kept = [math.erf((width / 2 - x) / side) + math.erf((width / 2 + x) / side) for x in places]
    return sum(kept) / 2 / len(kept)


def _seeds(
    colours: np.ndarray, noise: np.ndarray, length: np.ndarray, settings: FaceSettings
) -> list[int]:
    """Runs to try as the filler: the longest of every group that looks alike."""
    floor = np.diag(np.square(settings.class_floor))
    seeds: list[int] = []
    for index in np.argsort(-length):
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


def _chain(
    likely: np.ndarray, together: np.ndarray, length: np.ndarray, settings: FaceSettings
) -> tuple[np.ndarray, float]:
    """Forward-backward over the runs; returns state probabilities (k, 3) and log evidence.

    ``together`` is the density of a run as a further piece of the residue before it.

    A state ends at a rate per overlap; longer voids are rarer than longer
    brazed runs, mildly.
    """
    prior = np.array([settings.prior_brazed, settings.prior_open, settings.prior_residue])
    fade = np.exp(-np.outer(length, settings.ending_rates))
    likely = np.maximum(likely, 1e-12) * fade
    stay = 0.25
    move = (1 - stay) * prior[None, :] / prior.sum() + stay * np.eye(3)
    count = likely.shape[0]
    steps = move[None] * likely[:, None, :]
    pocket = 0.5 * together * fade[:, RESIDUE]
    steps[:, RESIDUE, RESIDUE] = 0.5 * (steps[:, RESIDUE, RESIDUE] + pocket)
    ahead = np.zeros((count, 3))
    scale = np.zeros(count)
    state = prior
    for k in range(count):
        joint = state * likely[0] if k == 0 else ahead[k - 1] @ steps[k]
        scale[k] = joint.sum()
        ahead[k] = joint / scale[k]
    back = np.ones((count, 3))
    for k in range(count - 2, -1, -1):
        back[k] = steps[k + 1] @ back[k + 1]
        back[k] /= back[k].sum()
    both = ahead * back
    return both / both.sum(axis=1, keepdims=True), float(np.log(scale).sum())
