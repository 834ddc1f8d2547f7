"""A flat thing seen in perspective: points of a card in mm, their places in the picture in px.

The projective map with eight free numbers is fitted to the corners by least
squares (Gauss-Newton after a direct linear start); its covariance comes from the
residuals. Every figure taken from it (a length, a scale, a tilt) carries the
spread that follows, by first order (JCGM 100:2008, 5.1.2). What lies beyond the
horizon of the map is refused by the callers, never computed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

ROUNDS = 8
_STEP = 1e-5


@dataclass(frozen=True)
class Plane:
    """A fitted map from card to picture.

    Parameters
    ----------
    numbers : ndarray of float, shape (8,)
        The map between both sides' normalised coordinates; its ninth number is 1.
    covariance : ndarray of float, shape (8, 8)
        Of ``numbers``.
    card_frame, picture_frame : ndarray of float, shape (3, 3)
        From mm and from px to normalised coordinates.
    residuals : ndarray of float, shape (n, 2)
        Corner minus map, [px].
    """

    numbers: np.ndarray
    covariance: np.ndarray
    card_frame: np.ndarray
    picture_frame: np.ndarray
    residuals: np.ndarray

    @property
    def rms_px(self) -> float:
        """Root mean square of one coordinate's residual, degrees of freedom counted, [px]."""
        return residual_px(self.residuals)

    def matrix(self, numbers: np.ndarray | None = None) -> np.ndarray:
        """Return the map from mm to px, shape (3, 3).

        Parameters
        ----------
        numbers : ndarray of float, shape (8,), optional
            Other numbers than the fitted ones.
        """
        inner = np.append(self.numbers if numbers is None else numbers, 1.0).reshape(3, 3)
        return np.asarray(np.linalg.inv(self.picture_frame) @ inner @ self.card_frame)


def residual_px(residuals: np.ndarray) -> float:
    """Return the spread of one coordinate from residuals, eight fitted numbers counted, [px]."""
    free = max(residuals.size - 8, 1)
    return float(np.sqrt((residuals**2).sum() / free))


def fit_plane(card_mm: np.ndarray, picture_px: np.ndarray) -> Plane:
    """Fit the projective map from card to picture.

    Parameters
    ----------
    card_mm, picture_px : ndarray of float, shape (n, 2)
        The same points on the card [mm] and in the picture [px]; n at least 6,
        not all on one line.

    Returns
    -------
    Plane
        With the covariance of its numbers. With few corners the spread of their
        residuals is itself poorly known; its square is widened by ``n/(n-2)`` for n
        degrees of freedom, the variance of Student's t.
    """
    frames = _frame(card_mm), _frame(picture_px)
    source, target = apply(frames[0], card_mm), apply(frames[1], picture_px)
    numbers = _start(source, target)
    for _ in range(ROUNDS):
        step, *_ = np.linalg.lstsq(
            _slopes(numbers, source), (target - _mapped(numbers, source)).ravel(), rcond=None
        )
        numbers = numbers + step
        if float(np.abs(step).max()) < 1e-12:
            break
    off = target - _mapped(numbers, source)
    slopes = _slopes(numbers, source)
    free = max(off.size - 8, 1)
    widened = free / (free - 2) if free > 2 else 3.0
    variance = float((off**2).sum()) / free * widened
    covariance = variance * np.linalg.inv(slopes.T @ slopes)
    return Plane(numbers, covariance, frames[0], frames[1], off / frames[1][0, 0])


def apply(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Map points.

    Parameters
    ----------
    matrix : ndarray of float, shape (3, 3)
        A projective map.
    points : ndarray of float, shape (n, 2)
        Points.

    Returns
    -------
    ndarray of float, shape (n, 2)
        Their images.
    """
    spread = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(spread[:, :2] / spread[:, 2:])


def beyond_horizon(plane: Plane, points_px: np.ndarray) -> np.ndarray:
    """Tell which points of the picture no point of the plane can show.

    Parameters
    ----------
    plane : Plane
        The map.
    points_px : ndarray of float, shape (n, 2)
        Places in the picture, [px].

    Returns
    -------
    ndarray of bool, shape (n,)
        True where the place lies on or past the plane's horizon.
    """
    back = np.linalg.inv(plane.matrix())
    middle = apply(plane.matrix(), np.linalg.inv(plane.card_frame)[None, :2, 2])
    sign = np.sign(middle @ back[2, :2] + back[2, 2])
    depth = (points_px @ back[2, :2] + back[2, 2]) * sign
    at_card = abs(float((middle @ back[2, :2] + back[2, 2])[0]))
    return np.asarray(depth < 0.05 * at_card)


def lengths_mm(matrix: np.ndarray, line_px: np.ndarray) -> np.ndarray:
    """Return the steps of a line of the picture, measured on the card's plane.

    Parameters
    ----------
    matrix : ndarray of float, shape (3, 3)
        From mm to px.
    line_px : ndarray of float, shape (n, 2)
        The line, [px].

    Returns
    -------
    ndarray of float, shape (n - 1, 2)
        Steps along the card's two directions, [mm].
    """
    return np.diff(apply(np.linalg.inv(matrix), line_px), axis=0)


def slopes_at(matrix: np.ndarray, point_px: np.ndarray) -> np.ndarray:
    """Return how the picture moves with the card near one point.

    Parameters
    ----------
    matrix : ndarray of float, shape (3, 3)
        From mm to px.
    point_px : ndarray of float, shape (2,)
        Place in the picture, [px].

    Returns
    -------
    ndarray of float, shape (2, 2)
        Derivatives, [px/mm].
    """
    x, y = apply(np.linalg.inv(matrix), point_px[None])[0]
    depth = matrix[2] @ [x, y, 1.0]
    return np.asarray((matrix[:2, :2] - np.outer(point_px, matrix[2, :2])) / depth)


def scale_at(matrix: np.ndarray, point_px: np.ndarray) -> float:
    """Return the scale near a point, the mean of its directions, [px/mm].

    Parameters
    ----------
    matrix : ndarray of float, shape (3, 3)
        From mm to px.
    point_px : ndarray of float, shape (2,)
        Place in the picture, [px].
    """
    return float(np.sqrt(abs(np.linalg.det(slopes_at(matrix, point_px)))))


def squash_at(matrix: np.ndarray, point_px: np.ndarray) -> float:
    """Return the smallest scale of any direction over the largest one, [-].

    At the place where the optical axis meets the picture (taken as its middle) this is
    the cosine of the angle between plane and sensor, whatever the lens.

    Parameters
    ----------
    matrix : ndarray of float, shape (3, 3)
        From mm to px.
    point_px : ndarray of float, shape (2,)
        Place in the picture, [px].
    """
    large, small = np.linalg.svd(slopes_at(matrix, point_px), compute_uv=False)
    return float(small / large)


def spread_of(plane: Plane, figure: Callable[[np.ndarray], float]) -> float:
    """Return the standard uncertainty of a figure taken from the map.

    Parameters
    ----------
    plane : Plane
        The map and its covariance.
    figure : callable
        Figure of a map from mm to px, shape (3, 3).
    """
    slope = np.empty(8)
    for place in range(8):
        move = np.zeros(8)
        move[place] = _STEP
        high = figure(plane.matrix(plane.numbers + move))
        low = figure(plane.matrix(plane.numbers - move))
        slope[place] = (high - low) / (2 * _STEP)
    return float(np.sqrt(max(slope @ plane.covariance @ slope, 0.0)))


def _frame(points: np.ndarray) -> np.ndarray:
    """Coordinates of about unit size round the middle of the points."""
    middle = points.mean(axis=0)
    size = float(np.sqrt(((points - middle) ** 2).sum(axis=1).mean() / 2))
    return np.array([[1 / size, 0, -middle[0] / size], [0, 1 / size, -middle[1] / size], [0, 0, 1]])


def _start(source: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Solve the linear equations of the map; good enough to start from."""
    x, y = source.T
    u, v = target.T
    one, zero = np.ones_like(x), np.zeros_like(x)
    first = np.stack([x, y, one, zero, zero, zero, -u * x, -u * y], axis=1)
    second = np.stack([zero, zero, zero, x, y, one, -v * x, -v * y], axis=1)
    numbers, *_ = np.linalg.lstsq(np.vstack([first, second]), np.concatenate([u, v]), rcond=None)
    return np.asarray(numbers)


def _mapped(numbers: np.ndarray, source: np.ndarray) -> np.ndarray:
    return apply(np.append(numbers, 1.0).reshape(3, 3), source)


def _slopes(numbers: np.ndarray, source: np.ndarray) -> np.ndarray:
    """Derivatives of the mapped points by the eight numbers, shape (2 n, 8)."""
    x, y = source.T
    depth = numbers[6] * x + numbers[7] * y + 1
    u, v = _mapped(numbers, source).T
    out = np.zeros((len(x), 2, 8))
    base = np.stack([x, y, np.ones_like(x)], axis=1) / depth[:, None]
    out[:, 0, :3] = base
    out[:, 1, 3:6] = base
    out[:, 0, 6:] = -u[:, None] * base[:, :2]
    out[:, 1, 6:] = -v[:, None] * base[:, :2]
    return out.reshape(-1, 8)
