"""Refusals: pictures and ends from which no honest number can be read."""

from __future__ import annotations

import math

import numpy as np

from .errors import (
    EndsOutsidePhoto,
    EndsRefused,
    EndsTooClose,
    FillUnclear,
    FinishTooCoarse,
    GapTooThin,
    NoCopperWalls,
    NoJointLine,
    PhotoBlurred,
    PhotoClipped,
    PhotoColourless,
    PhotoFlat,
)
from .image import Photo
from .middles import grey
from .runs import Series
from .settings import FaceSettings
from .values import Point
from .walls import Profile

FLAT_LEVELS = 0.02  # grey levels: rounding of the resampling alone


def check_ends(photo: Photo, ends: tuple[Point, Point], settings: FaceSettings) -> None:
    """Refuse ends that are no points, lie outside the picture or too close together."""
    for name, point in zip(("tube end", "cup face"), ends, strict=True):
        if not all(math.isfinite(v) for v in point):
            raise EndsRefused(
                f"the {name} is no point",
                got=str(point),
                expected="two numbers x,y",
                do="Give the end as x,y in pixels; the --grid picture helps.",
            )
        if not (-0.5 <= point[0] <= photo.width - 0.5 and -0.5 <= point[1] <= photo.height - 0.5):
            raise EndsOutsidePhoto(
                f"the {name} lies outside the picture",
                got=f"{point[0]:g},{point[1]:g}",
                expected=f"x 0 to {photo.width - 1}, y 0 to {photo.height - 1}",
                do="Read the end from the --grid picture of this photograph.",
            )
    chord = math.dist(*ends)
    if chord < settings.min_overlap_px:
        raise EndsTooClose(
            "the ends are too close together",
            got=f"{chord:.1f} px",
            expected=f"at least {settings.min_overlap_px} px",
            do="Check the ends, or photograph the face closer.",
        )


def check_light(strip: np.ndarray, settings: FaceSettings) -> None:
    """Refuse a band along the joint that is flat, burnt out, black or without colour."""
    blue, green, red = np.moveaxis(strip[::2, ::2], -1, 0)  # a quarter of it tells as well
    low = np.minimum(np.minimum(blue, green), red)
    high = np.maximum(np.maximum(blue, green), red)
    dead = float(np.mean((low > 251) | (high < 5)))
    if dead > settings.max_clipped:
        raise PhotoClipped(
            "burnt out or black along the joint",
            got=f"{dead:.0%} of the band",
            expected=f"at most {settings.max_clipped:.0%}",
            do="Photograph again with less or more light, without reflection.",
        )
    mean = (blue + green + red) / 3
    dark, light = np.percentile(mean, [3, 97])
    spread = float(light - dark)
    if spread < settings.flat_levels * 2:
        raise PhotoFlat(
            "no contrast along the joint",
            got=f"{spread:.1f} grey levels",
            expected=f"at least {settings.flat_levels * 2:g}",
            do="Check the ends and the light, or photograph again.",
        )
    colour = np.median(high - low)
    if colour < 0.05 * float(np.median(mean)) + 1:
        raise PhotoColourless(
            "the picture has no colour",
            got=f"{colour:.1f} levels between the colour channels",
            expected="a colour photograph",
            do="Photograph in colour, or read the face by loupe.",
        )


def check_walls(profile: Profile, settings: FaceSettings) -> None:
    """Refuse ends between which there is no copper on both sides."""
    blue, green, red = np.moveaxis(profile.copper, -1, 0)
    level = profile.copper.mean(axis=-1) + 1
    like = ((red - blue) / level > 0.12) & (red > green * 1.03) & (green > blue * 0.88)
    like &= (red < green * 2.2) & (red < blue * 4.5)  # redder than any copper in white light
    share = float(like.all(axis=0).mean())
    if share < settings.min_copper_share:
        raise NoCopperWalls(
            "no copper on both sides of the line",
            got=f"{share:.0%} of its length",
            expected=f"at least {settings.min_copper_share:.0%}",
            do="Check that the ends lie on a joint between two copper walls.",
        )
    logs = np.log((profile.copper[0] + 4) / (profile.copper[1] + 4))
    differ = float(np.median(np.abs(logs).max(axis=-1)))
    # light may fall unevenly, but it does not change the hue: the line is then an edge of the gap
    hue = float(np.median(np.abs(logs[:, 0] - logs[:, 2])))
    rough = float(np.median(np.abs(profile.sham[..., 0])))
    most = (settings.max_wall_difference, settings.max_wall_hue, settings.max_wall_unevenness)
    if any(found > limit for found, limit in zip((differ, hue, rough), most, strict=True)):
        raise NoCopperWalls(
            "the two sides of the line are not two walls of the same metal",
            got=f"difference {differ:.2f}, in hue {hue:.2f}, unevenness {rough:.2f}",
            expected="at most {:g}, {:g} and {:g}".format(*most),
            do="Check that the ends lie on a joint between two copper walls; "
            "a joint of copper to bronze or brass is read by loupe.",
        )


def visibility(series: Series, profile: Profile) -> float:
    """Return how much the line stands out of the copper: about 1 means not at all, [-]."""
    blocks = 40
    scale = np.sqrt(np.diag(series.noise))

    def height(line: np.ndarray) -> float:
        cut = line[: line.shape[0] // blocks * blocks].reshape(blocks, -1, 3).mean(axis=1)
        return float(np.mean(np.sqrt(((cut / scale) ** 2).sum(axis=1))))

    ground = float(np.median([height(line) for line in profile.sham]))
    return height(profile.colour) / max(ground, 1e-6)


def check_line(seen: float, gap_px: float, settings: FaceSettings) -> None:
    """Refuse a line that does not stand out, or that is too thin to read."""
    if seen < settings.min_visibility:
        raise NoJointLine(
            "no joint line between the ends",
            got=f"visibility {seen:.2f}",
            expected=f"at least {settings.min_visibility:g}",
            do="Check the ends; if they are right, etch the face lightly or read it by loupe.",
        )
    if gap_px < settings.min_gap_px:
        raise GapTooThin(
            "too few pixels across the gap",
            got=f"{gap_px:.1f} px",
            expected=f"at least {settings.min_gap_px:g} px",
            do="Photograph the face closer or at a higher resolution, or read it by loupe.",
        )


def blur_px(strip: np.ndarray, reach_px: float) -> float:
    """Estimate the blur (sigma, [px]) from the steepest slopes across the line."""
    middle = strip.shape[0] // 2
    reach = int(min(middle, reach_px))
    columns = strip.shape[1] // 8 * 8
    part = grey(strip[middle - reach : middle + reach + 1, :columns])
    part = part.reshape(part.shape[0], -1, 8).mean(axis=2)
    slope = np.abs(np.diff(part, axis=0)).max(axis=0)
    height = part.max(axis=0) - part.min(axis=0)
    strong = height >= max(8.0, float(np.percentile(height, 60)))
    if not strong.any():
        return 0.0
    return float(np.percentile(height[strong] / np.maximum(slope[strong], 1e-3), 25)) / 2.4


def flat_share(strip: np.ndarray, gap_px: float) -> float:
    """Return how much of the copper beside the gap does not change from pixel to pixel, [-].

    No camera gives that; removal of noise or strong compression does, and takes faint voids along.
    """
    middle, inner = strip.shape[0] // 2, int(np.ceil(0.5 * gap_px + 3))
    above = strip[max(0, middle - inner - 8) : middle - inner]
    rows = np.concatenate([above, strip[middle + inner : middle + inner + 8]]).mean(axis=2)
    return float((np.abs(np.diff(rows, axis=1)) < FLAT_LEVELS).mean()) if rows.size else 0.0


def check_sharpness(blur: float, overlap_px: float, gap_px: float, settings: FaceSettings) -> None:
    """Refuse a picture so unsharp that ends of voids or the gap itself drown."""
    limit = max(3.0, settings.max_blur_of_overlap * overlap_px)
    if blur > limit and gap_px < 4 * blur:
        raise PhotoBlurred(
            "the picture is not sharp",
            got=f"blur of {blur:.1f} px",
            expected=f"at most {limit:.1f} px",
            do="Focus again, or photograph closer with the camera held firmly.",
        )


def finish_ratio(profile: Profile) -> tuple[float, float]:
    """Return scratch contrast in the copper at the scale of the gap, alone and beside the gap."""
    scratch = float(np.percentile(np.abs(profile.sham[..., 0]), 95))
    line = float(np.percentile(np.sqrt((profile.colour**2).sum(axis=1)), 75))
    return scratch, scratch / max(line, 1e-3)


def check_finish(profile: Profile, settings: FaceSettings) -> None:
    """Refuse a finish whose scratches look like the gap."""
    scratch, ratio = finish_ratio(profile)
    if scratch > 0.06 and ratio > settings.max_finish:
        raise FinishTooCoarse(
            "scratches of the finish match the gap",
            got=f"{ratio:.2f} of the gap's contrast",
            expected=f"at most {settings.max_finish:g}",
            do="Re-prepare the face to a finer finish, or read it by loupe.",
        )


def check_interval(interval: tuple[float, float], settings: FaceSettings) -> None:
    """Refuse a reading so wide that it tells nothing: a person must look."""
    low, high = interval
    if high - low > settings.max_interval:
        raise FillUnclear(
            "what fills the gap cannot be told from the picture",
            got=f"95 % interval from {low:.1%} to {high:.1%}",
            expected=f"an interval of at most {settings.max_interval:.0%} of the overlap",
            do="Read this face by loupe, or photograph it closer and after a finer finish.",
        )
