"""What runs would look like if one of them, or the fillet, showed the filler.

Filler of one face has one look, as even as the face says; dragged copper pales
it, copper-rich grains do so in short pieces, and a gap that is half empty shows
a mixture with what surrounds the copper.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .hues import normal_density
from .settings import FaceSettings
from .walls import Outside, relative_colour

_SHADES = (0.8, 0.88, 0.95, 1.02, 1.08)


@dataclass(frozen=True)
class Filler:
    """Densities of all runs, (k,) each, when run ``seed`` is taken for the filler.

    ``alike`` as the same filler, ``smeared`` half hidden by dragged copper,
    ``more`` and ``less`` as a gap more or less than half filled with it.
    """

    alike: np.ndarray
    smeared: np.ndarray
    more: np.ndarray
    less: np.ndarray
    seed: int


def try_fillers(
    colours: np.ndarray,
    noise: np.ndarray,
    length: np.ndarray,
    empty: np.ndarray,
    settings: FaceSettings,
) -> list[Filler]:
    """Return densities of all runs for every run tried as the filler, the longest run first.

    Parameters
    ----------
    colours : ndarray of float, shape (k, 3)
        Runs beside copper.
    noise : ndarray of float, shape (k, 3, 3)
        Their covariance.
    length : ndarray of float, shape (k,)
        Their share of the line.
    empty : ndarray of float, shape (m, 3)
        What an empty gap may look like in the core of this one.
    settings : FaceSettings
        Numbers of the method.
    """
    found = []
    for seed in _seeds(colours, noise, length, settings):
        smeared = _smeared(colours, noise, seed, length, settings)
        cover = noise + noise[seed]
        more, less = partly_filled(colours, cover, colours[seed], empty, settings)
        more *= np.exp(-length / settings.pore_piece)
        more[seed] = less[seed] = 0.0
        for spread in settings.filler_evenness:
            alike = _filler(colours, noise, seed, spread, settings)
            found.append(Filler(alike, smeared, more, less, seed))
        two = _two_phase(colours, cover, colours[seed], length, settings)
        found.append(Filler(two, smeared, more, less, seed))
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


def partly_filled(
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


def open_looks(outside: Outside, copper: np.ndarray) -> np.ndarray:
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
