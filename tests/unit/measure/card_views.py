"""Drawn views of scale cards by lot, with the exact length of a line beside each card."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lapwright.measure.drawing.views import Camera, Wear, draw_card, project
from lapwright.measure.image import Photo, photo_from_pixels
from lapwright.measure.scalecard import Print
from lapwright.reference.cards import ScaleCard, scale_cards

CARDS = {card.name: card for card in scale_cards()}


@dataclass(frozen=True)
class View:
    """A drawn picture, the line in it [px] and the line's true length [mm]."""

    photo: Photo
    line_px: np.ndarray
    line_mm: float
    camera: Camera

    @property
    def arc_px(self) -> float:
        return float(np.hypot(*np.diff(self.line_px, axis=0).T).sum())


def view(
    camera: Camera,
    card: ScaleCard,
    *,
    at_mm: tuple[float, float] = (0.0, 0.0),
    line: tuple[tuple[float, float], tuple[float, float]] = ((-8.0, 9.0), (9.0, 8.0)),
    stretch: tuple[float, float] = (1.0, 1.0),
    wear: Wear | None = None,
    seed: int = 0,
) -> View:
    """Draw a card with its middle at a place, and a straight line beside it."""
    width, height = (float(side) for side in card.size_mm)
    corner = (at_mm[0] - width / 2, at_mm[1] - height / 2)
    picture = draw_card(camera, card, corner_mm=corner, stretch=stretch, wear=wear, seed=seed)
    ends = np.array(line)
    places = ends[0] + np.linspace(0, 1, 60)[:, None] * (ends[1] - ends[0])
    length = float(np.hypot(*(ends[1] - ends[0])))
    return View(photo_from_pixels(picture), project(camera, places), length, camera)


def view_by_lot(seed: int, *, width: tuple[int, int] = (1000, 1800)) -> tuple[View, Print | None]:
    """Draw one view by lot: camera, tilt 0 to 35 degrees, partial card, print, lens and wear."""
    rng = np.random.default_rng([20260301, seed])
    card = scale_cards()[seed % 3]
    wide = int(rng.integers(*width))
    size = (wide, int(0.7 * wide))
    field = {2: (18, 34), 4: (30, 60), 6: (45, 100)}[int(card.square_mm)]
    scale = wide / rng.uniform(*field)
    camera = Camera(
        size,
        scale,
        tilt_deg=rng.uniform(0, 35),
        axis_deg=rng.uniform(0, 360),
        turn_deg=rng.uniform(-180, 180),
        focal_px=wide * rng.uniform(1.6, 5),
        bulge=rng.uniform(-0.003, 0.003),
    )
    turn = np.radians(-camera.turn_deg)
    upright = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    place = upright @ (rng.uniform(-1, 1, 2) * 0.33 * np.array(size) / scale)
    half = 0.5 * rng.uniform(0.35, 0.6) * size[1] / scale
    angle = rng.uniform(0, np.pi)
    middle = upright @ (rng.uniform(-0.1, 0.1, 2) * wide / scale)
    arm = half * np.array([np.cos(angle), np.sin(angle)])
    checked = rng.random() < 0.5
    stretch = 1 + rng.uniform(-1, 1, 2) * (0.03 if checked else 0.01)
    read = rng.uniform(-0.25, 0.25, (2, 2)).sum(axis=0)  # each end to half a millimetre
    wear = Wear(
        rng.uniform(0.4, 2.5), rng.uniform(1, 6), int(rng.integers(75, 98)), rng.uniform(0.5, 1.1)
    )
    drawn = view(
        camera,
        card,
        at_mm=(float(place[0]), float(place[1])),
        line=(tuple(middle - arm), tuple(middle + arm)),
        stretch=(float(stretch[0]), float(stretch[1])),
        wear=wear,
        seed=seed,
    )
    return drawn, Print(*(float(v) for v in 100 * stretch + read)) if checked else None
