"""Looks of a fill: its hue apart from copper's, what blur leaves of it, and densities.

A colour beside copper mixes two things: the fill and the copper it is compared
with. Here the hue of the copper is taken out again, and the contrast lost in a
narrow gap is reckoned from its width and the blur of the picture.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .settings import FaceSettings

Dilution = tuple[float, float, float]


def normal_density(
    colours: np.ndarray, centre: np.ndarray, cover: np.ndarray, *, foot: float = 0.07
) -> np.ndarray:
    """Density of a normal with a broad foot, per row; ``cover`` (k, 3, 3)."""
    gone = colours - centre
    square = np.einsum("ki,kij,kj->k", gone, np.linalg.inv(cover), gone)
    scale = 1 / np.sqrt(np.linalg.det(2 * np.pi * cover))
    broad = np.exp(-square / 18) / 27
    return np.asarray(scale * ((1 - foot) * np.exp(-square / 2) + foot * broad))


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
        density = self.scale * normal_density(self.looks, centre, prior + self.cover)
        # a polished metal is never nearly black beside copper, which an empty gap is
        dark = np.minimum(self.looks[:, 0] - settings.darkest_filler, 0)
        return np.asarray(density * np.exp(-0.5 * (dark / 0.02) ** 2) + 1e-30)

    def residue(self, dilution: Dilution, settings: FaceSettings) -> np.ndarray:
        """Density of each run as a pocket of residue of its own."""
        light, blue, green = np.array(settings.residue_centre) * dilution
        prior = np.diag(np.square(settings.residue_spread))
        centre = np.array([light, blue + (1 - dilution[1]) * self.base, green])
        return np.asarray(self.scale * normal_density(self.looks, centre, prior + self.cover))


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


@dataclass(frozen=True)
class Optics:
    """Width of the gap, blur included, and blur (sigma) of the picture, [px]."""

    gap_px: float
    blur_px: float


def dilutions(optics: Optics, settings: FaceSettings) -> list[tuple[Dilution, float]]:
    """How much of the true contrast may be left in the core of the gap, with its probability.

    A gap of width *w* under a blur of sigma *b* keeps, at *x* from its middle,
    ``Phi((w/2 - x)/b) - Phi((-w/2 - x)/b)`` of its contrast. The measured width
    holds some of the blur, so narrower ones are tried too; JPEG files keep
    colour at half the resolution and coarsely, which is a further blur of a
    pixel or more.
    """
    reach = max(0.3, settings.core_of_gap / 2 * optics.gap_px)
    blur = max(0.5, optics.blur_px)
    found = []
    for narrower, chance in settings.narrower_of_blur:
        width = max(1.2, optics.gap_px - narrower * max(1.0, blur))
        light = _kept(width, blur, reach)
        for coded in settings.coded_blur_px:
            colour = _kept(width, math.hypot(blur, coded), reach)
            left = (1 - settings.sharpened) * chance / len(settings.coded_blur_px)
            found.append(((light, colour, colour), left))
    # a camera that sharpens gives back what the lens has taken
    return [*found, ((1.0, 1.0, 1.0), settings.sharpened)]


def mean_dilution(optics: Optics, settings: FaceSettings) -> np.ndarray:
    """Share of the true contrast left in the core, averaged over `dilutions`, shape (3,)."""
    left = [np.array(kept) * chance for kept, chance in dilutions(optics, settings)]
    return np.asarray(np.sum(left, axis=0))


def _kept(width: float, blur: float, reach: float) -> float:
    """Share of the contrast of a gap left in its core, averaged over the core."""
    places = [reach * k / 4 for k in range(-4, 5)]
    side = blur * math.sqrt(2)
    kept = [math.erf((width / 2 - x) / side) + math.erf((width / 2 + x) / side) for x in places]
    return sum(kept) / 2 / len(kept)
