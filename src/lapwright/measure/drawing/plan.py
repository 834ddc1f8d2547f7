"""Draw lots for one face: sizes, voids, colours and disturbances, from the frozen file.

Nothing here paints. The same seed and stream always give the same plan; the
streams share no random numbers, so that a face used for tuning is never one
used for testing.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np

Span = tuple[float, float, str]


@dataclass(frozen=True)
class FacePlan:
    """Everything a painter needs; ``voids`` are (start, end, kind) in shares from the tube end."""

    seed: int
    stream: str
    width_px: int
    height_px: int
    overlap_mm: float
    px_per_mm: float
    clearance_mm: float
    taper: float
    wall_tube_mm: float
    wall_cup_mm: float
    stop_gap_mm: float
    fillet_mm: float
    bow_mm: float
    wave_mm: float
    rotation_deg: float
    perspective: tuple[float, float]
    mirrored: int
    voids: tuple[Span, ...]
    looks: dict[str, Any] = field(default_factory=dict)

    def rng(self, purpose: int) -> np.random.Generator:
        """Random numbers for one purpose of this plan, independent of the others."""
        return np.random.default_rng([frozen()["streams"][self.stream], self.seed, purpose])


@lru_cache(maxsize=1)
def frozen() -> dict[str, Any]:
    """Return the frozen distributions; callers must not change them."""
    text = files("lapwright.measure").joinpath("data/disturbances.json").read_text("utf-8")
    table: dict[str, Any] = json.loads(text)
    return table


class Lots:
    """Draws values from the frozen distributions with one generator."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.table = frozen()

    def number(self, name: str) -> float:
        """Draw a number of the distribution ``name``."""
        spec = self.table[name]
        if isinstance(spec, dict):
            low, high = spec["log"]
            return float(np.exp(self.rng.uniform(np.log(low), np.log(high))))
        return float(self.rng.uniform(spec[0], spec[1]))

    def count(self, name: str) -> int:
        """Draw a whole number, both ends included."""
        low, high = self.table[name]
        return int(self.rng.integers(low, high + 1))

    def hit(self, name: str) -> int:
        """Draw 1 with the probability of ``name``, else 0."""
        return int(self.rng.uniform() < self.table[name]["p"])

    def choice(self, name: str) -> str:
        """Draw one key of a table of weights."""
        spec: dict[str, float] = self.table[name]
        weights = np.array(list(spec.values()))
        return str(self.rng.choice(list(spec), p=weights / weights.sum()))


def draw_share(lots: Lots) -> float:
    """Draw an unbrazed share; many faces lie near the 20 % limit, where errors matter."""
    spec = lots.table["share"]
    if lots.rng.uniform() < spec["none"]:
        return 0.0
    weights = np.array(spec["weights"])
    low, high = spec[("few", "near_limit", "many")[lots.rng.choice(3, p=weights / weights.sum())]]
    return float(lots.rng.uniform(low, high))


def draw_voids(lots: Lots, share: float) -> tuple[Span, ...]:
    """Spread an unbrazed share over voids; they never touch each other."""
    smallest = lots.table["void_min_of_overlap"]
    if share < smallest:
        return ()
    most = max(1, min(lots.count("voids"), int(share / (2 * smallest)) or 1))
    lengths = smallest + (share - most * smallest) * lots.rng.dirichlet(np.full(most, 1.2))
    sound = 1 - share
    least = min(smallest, sound / (2 * (most + 1)))
    gaps = least + (sound - (most + 1) * least) * lots.rng.dirichlet(np.full(most + 1, 1.0))
    if lots.hit("void_at_an_end"):
        gaps = _close_one_end(gaps, int(lots.rng.integers(2)))
    starts = np.cumsum(gaps[:-1]) + np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
    return tuple(
        (float(a), float(min(a + n, 1.0)), lots.choice("kinds"))
        for a, n in zip(starts, lengths, strict=True)
    )


def _close_one_end(gaps: np.ndarray, which: int) -> np.ndarray:
    closed = gaps.copy()
    end, other = (0, -1) if which else (-1, 0)
    closed[other] += closed[end]
    closed[end] = 0.0
    return closed


def draw_plan(seed: int, stream: str, width_px: int, share: float | None) -> FacePlan:
    """Draw the plan of one face.

    Parameters
    ----------
    seed : int
        Number of the face in its stream.
    stream : str
        ``tuning``, ``testing`` or ``demo``.
    width_px : int
        Longer side of the picture, [px].
    share : float or None
        Unbrazed share wanted, [-]; drawn when None.
    """
    rng = np.random.default_rng([frozen()["streams"][stream], seed, 0])
    lots = Lots(rng)
    overlap = lots.number("overlap_mm")
    scale = lots.number("overlap_of_width") * width_px / overlap
    clearance = max(lots.number("clearance_mm"), lots.table["clearance_min_px"] / scale)
    wall = lots.number("wall_tube_of_overlap") * overlap
    upright = lots.hit("upright")
    wanted = draw_share(lots) if share is None else share
    return FacePlan(
        seed=seed,
        stream=stream,
        width_px=width_px,
        height_px=int(width_px * 0.66),
        overlap_mm=overlap,
        px_per_mm=scale,
        clearance_mm=clearance,
        taper=lots.number("clearance_taper"),
        wall_tube_mm=wall,
        wall_cup_mm=wall * lots.number("wall_cup_of_tube"),
        stop_gap_mm=lots.number("stop_gap_mm"),
        fillet_mm=wall * lots.number("fillet_of_wall"),
        bow_mm=lots.number("bow_of_overlap") * overlap,
        wave_mm=lots.number("wave_of_clearance") * clearance,
        rotation_deg=lots.number("rotation_deg") + 90.0 * upright + 180.0 * rng.integers(2),
        perspective=(lots.number("perspective"), lots.number("perspective")),
        mirrored=int(rng.integers(2)),
        voids=draw_voids(lots, wanted),
        looks=_looks(lots),
    )


def _looks(lots: Lots) -> dict[str, Any]:
    names = (
        "copper_red",
        "copper_green_of_red",
        "copper_blue_of_red",
        "cup_shade",
        "grain",
        "resin_grey",
        "filler_texture",
        "void_shade",
        "light_bowl",
        "scratch_depth",
        "scratch_mm",
        "smear_of_overlap",
        "stain_depth",
        "blur_px",
        "noise",
        "meniscus",
    )
    looks: dict[str, Any] = {name: lots.number(name) for name in names}
    looks["resin_tint"] = [lots.number("resin_tint") for _ in range(3)]
    looks["gain"] = [lots.number("gain") for _ in range(3)]
    looks["light_slope"] = [lots.number("light_slope") for _ in range(2)]
    looks["filler"] = lots.choice("filler")
    looks["scratches"] = lots.count("scratches")
    looks["jpeg"] = lots.count("jpeg")
    for name in ("smear", "glare", "stain"):
        looks[name] = lots.hit(name)
    return looks
