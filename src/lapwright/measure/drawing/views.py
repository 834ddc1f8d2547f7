"""Drawn views of scale cards and stage micrometers through a known camera.

The camera is a pinhole, so the truth is exact projective geometry: every place
on the plane has one place in the picture. Used by tests, the coverage figures of
the docs and training; no picture here was ever photographed.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from lapwright.reference.cards import ScaleCard

TEXTURE_PX_PER_MM = 60
QUIET_MM = 2.0
SUB = 3  # looks a pixel and direction, when lines are drawn
COPPER = (95, 130, 200)


@dataclass(frozen=True)
class Camera:
    """A pinhole camera looking at a plane; ``size`` is width and height, [px].

    ``scale`` is px/mm where the optical axis meets the plane, ``tilt_deg`` the
    angle between plane and sensor about an axis turned by ``axis_deg``,
    ``turn_deg`` a rotation in the plane, ``focal_px`` the focal length. A ``bulge`` is
    the share by which the lens moves the picture's corners outwards (barrel: below 0).
    """

    size: tuple[int, int]
    scale: float
    tilt_deg: float = 0.0
    axis_deg: float = 0.0
    turn_deg: float = 0.0
    focal_px: float = 6000.0
    bulge: float = 0.0

    def matrix(self) -> np.ndarray:
        """Return the map from the plane [mm] to the picture [px], shape (3, 3)."""
        turn, axis, tilt = np.radians([self.turn_deg, self.axis_deg, self.tilt_deg])
        lean = _about_z(axis) @ _about_x(tilt) @ _about_z(-axis) @ _about_z(turn)
        place = np.column_stack([lean[:, 0], lean[:, 1], [0, 0, self.focal_px / self.scale]])
        middle = (np.array(self.size) - 1) / 2
        inner = np.diag([self.focal_px, self.focal_px, 1.0])
        inner[:2, 2] = middle
        return np.asarray(inner @ place)


@dataclass(frozen=True)
class Wear:
    """What a camera does to a picture: blur [px], noise [levels], JPEG quality (0: none)."""

    blur_px: float = 0.8
    noise: float = 2.0
    jpeg: int = 92
    light: float = 1.0


def draw_card(
    camera: Camera,
    card: ScaleCard,
    *,
    corner_mm: tuple[float, float] = (0.0, 0.0),
    stretch: tuple[float, float] = (1.0, 1.0),
    wear: Wear | None = None,
    seed: int = 0,
) -> np.ndarray:
    """Draw a card on copper through a camera.

    Parameters
    ----------
    camera : Camera
        Where from.
    card : ScaleCard
        Which card.
    corner_mm : pair of float, optional
        Place of the board's first corner on the plane, [mm] from the optical axis.
    stretch : pair of float, optional
        Printed over nominal length, across and along, [-].
    wear : Wear, optional
        What the camera adds.
    seed : int, optional
        Of the noise.

    Returns
    -------
    ndarray of uint8, shape (height, width, 3)
        The picture.
    """
    texture = _printed(card)
    to_plane = np.diag([stretch[0] / TEXTURE_PX_PER_MM, stretch[1] / TEXTURE_PX_PER_MM, 1.0])
    quiet = QUIET_MM * np.array(stretch)
    offset = np.array(corner_mm) - quiet + np.diag(to_plane)[:2] * 0.5
    to_plane[:2, 2] = offset
    ground = np.full((camera.size[1], camera.size[0], 3), COPPER, np.float32)
    seen = _bent(_pasted(ground, texture, camera.matrix() @ to_plane), camera)
    return worn(seen, wear or Wear(), seed)


def worn(picture: np.ndarray, wear: Wear, seed: int) -> np.ndarray:
    """Return a picture as a camera would give it.

    Parameters
    ----------
    picture : ndarray of float, shape (height, width, 3)
        Without blur and noise; not modified.
    wear : Wear
        What the camera adds.
    seed : int
        Of the noise.
    """
    out = picture * wear.light
    if wear.blur_px:
        out = np.asarray(cv2.GaussianBlur(out, (0, 0), wear.blur_px), float)
    out = out + np.random.default_rng(seed).normal(0, wear.noise, out.shape)
    plain = np.clip(np.round(out), 0, 255).astype(np.uint8)
    if not wear.jpeg:
        return np.asarray(plain)
    _, data = cv2.imencode(".jpg", plain, [cv2.IMWRITE_JPEG_QUALITY, wear.jpeg])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR))


def project(camera: Camera, points_mm: np.ndarray) -> np.ndarray:
    """Return where points of the plane lie in the picture.

    Parameters
    ----------
    camera : Camera
        The camera.
    points_mm : ndarray of float, shape (n, 2)
        Places on the plane, [mm] from the optical axis.

    Returns
    -------
    ndarray of float, shape (n, 2)
        Places in the picture, [px].
    """
    spread = points_mm @ camera.matrix()[:, :2].T + camera.matrix()[:, 2]
    return _bulged(camera, spread[:, :2] / spread[:, 2:])


def _bulged(camera: Camera, places_px: np.ndarray) -> np.ndarray:
    """Move places outwards as the lens does, by the cube of their distance from the middle."""
    middle = (np.array(camera.size) - 1) / 2
    arm = places_px - middle
    far = (arm**2).sum(axis=-1, keepdims=True) / (middle**2).sum()
    return np.asarray(middle + arm * (1 + camera.bulge * far))


def _bent(picture: np.ndarray, camera: Camera) -> np.ndarray:
    """Return a pinhole's picture as the lens gives it."""
    if not camera.bulge:
        return picture
    ys, xs = np.mgrid[0 : camera.size[1], 0 : camera.size[0]]
    wanted = np.stack([xs, ys], axis=-1).astype(float)
    source = wanted.copy()
    for _ in range(6):
        source += wanted - _bulged(camera, source)
    flat = source.astype(np.float32)
    return np.asarray(cv2.remap(picture, flat[..., 0], flat[..., 1], cv2.INTER_CUBIC))


def draw_graduations(
    camera: Camera,
    *,
    pitch_mm: float,
    divisions: int,
    line_mm: float,
    wear: Wear | None = None,
    seed: int = 0,
) -> np.ndarray:
    """Draw a stage micrometer: dark lines on light glass, every fifth and tenth longer.

    Parameters
    ----------
    camera : Camera
        Where from.
    pitch_mm : float
        Distance between neighbouring lines, [mm].
    divisions : int
        Number of divisions; one line more than that.
    line_mm : float
        Width of a line, [mm].
    wear : Wear, optional
        What the camera adds.
    seed : int, optional
        Of the noise.
    """
    offsets = (np.arange(SUB) + 0.5) / SUB - 0.5
    share = np.zeros((camera.size[1], camera.size[0]), np.float32)
    for dx in offsets:
        for dy in offsets:
            share += _ruled(camera, (float(dx), float(dy)), pitch_mm, divisions, line_mm) / SUB**2
    small = 215 + (60 - 215) * share
    return worn(np.repeat(small[..., None], 3, axis=2), wear or Wear(), seed)


def _ruled(
    camera: Camera, offset: tuple[float, float], pitch_mm: float, divisions: int, line_mm: float
) -> np.ndarray:
    """Tell where lines lie, looked at beside the pixels' middles by an offset, [px]."""
    back = np.linalg.inv(camera.matrix())
    across = (np.arange(camera.size[0]) + offset[0])[None, :]
    down = (np.arange(camera.size[1]) + offset[1])[:, None]
    x, y, depth = (row[0] * across + row[1] * down + row[2] for row in back)
    x, y = x / depth, y / depth
    step = np.round(x / pitch_mm + divisions / 2)
    near = np.abs(x - (step - divisions / 2) * pitch_mm) < line_mm / 2
    length = pitch_mm * np.select([step % 10 == 0, step % 5 == 0], [9.0, 7.0], 5.0)
    return np.asarray(near & (step >= 0) & (step <= divisions) & (y > 0) & (y < length))


def _printed(card: ScaleCard) -> np.ndarray:
    """Draw the board as the makers of the dictionary draw it, with white round it."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)
    board = cv2.aruco.CharucoBoard(
        (card.columns, card.rows),
        float(card.square_mm),
        float(card.marker_mm),
        dictionary,
        np.array(card.marker_ids),
    )
    size = tuple(round(float(side) * TEXTURE_PX_PER_MM) for side in card.size_mm)
    drawn = np.asarray(board.generateImage(size, marginSize=0, borderBits=1))
    quiet = round(QUIET_MM * TEXTURE_PX_PER_MM)
    framed = np.pad(drawn, quiet, constant_values=255)
    return np.asarray((30 + framed * (225 / 255)).astype(np.uint8))


def _pasted(ground: np.ndarray, texture: np.ndarray, matrix: np.ndarray) -> np.ndarray:
    """Lay a grey texture on a picture, drawn three times as fine as the picture."""
    high, wide = ground.shape[:2]
    zoom = np.array([[SUB, 0, (SUB - 1) / 2], [0, SUB, (SUB - 1) / 2], [0, 0, 1.0]])
    layers = []
    for layer in (texture, np.full_like(texture, 255)):
        fine = cv2.warpPerspective(layer, zoom @ matrix, (wide * SUB, high * SUB))
        small = cv2.resize(fine, (wide, high), interpolation=cv2.INTER_AREA)
        layers.append(small.astype(np.float32)[..., None])
    return np.asarray(ground * (1 - layers[1] / 255) + layers[0])


def _about_z(angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])


def _about_x(angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[1.0, 0, 0], [0, c, -s], [0, s, c]])
