"""Strokes and words for overlays: anti-aliased lines with a halo, dashes along a curve."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from .strip import arc_length, normals

Colour = tuple[int, int, int]
INK: Colour = (38, 30, 26)
PAPER: Colour = (250, 250, 247)
_FRACTION = 4  # binary digits of sub-pixel positions handed to the line drawer


def stroke(
    canvas: np.ndarray, points: np.ndarray, colour: Colour, *, width: int, halo: int = 2
) -> None:
    """Draw a polyline with a dark halo, so that it shows on copper and on resin."""
    if len(points) < 2:
        return
    path = np.round(points * 2**_FRACTION).astype(np.int32)[:, None, :]
    if halo:
        cv2.polylines(canvas, [path], False, INK, width + 2 * halo, cv2.LINE_AA, _FRACTION)
    cv2.polylines(canvas, [path], False, colour, width, cv2.LINE_AA, _FRACTION)


def dashed(
    canvas: np.ndarray, points: np.ndarray, colour: Colour, *, width: int, pattern: tuple[int, int]
) -> None:
    """Draw a polyline in dashes of ``pattern`` (on, off), [px] along the arc."""
    length = arc_length(points)
    on, off = pattern
    start = 0.0
    while start < length[-1]:
        end = min(start + on, length[-1])
        stroke(canvas, piece(points, start, end), colour, width=width, halo=1)
        start += on + off


def piece(points: np.ndarray, start: float, end: float) -> np.ndarray:
    """Return the part of a polyline between two arc lengths, [px]."""
    length = arc_length(points)
    inner = length[(length > start) & (length < end)]
    at = np.concatenate([[start], inner, [end]])
    return np.stack([np.interp(at, length, points[:, k]) for k in (0, 1)], axis=1)


def beside(points: np.ndarray, distance: float) -> np.ndarray:
    """Return the polyline moved sideways along its normals, [px]."""
    return np.asarray(points + distance * normals(points))


@lru_cache(maxsize=16)
def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size=size)


def text_width(text: str, size: int) -> int:
    """Return how wide a text is drawn, [px]."""
    left, _, right, _ = _font(size).getbbox(text)
    return int(right - left)


def words(
    canvas: np.ndarray,
    text: str,
    place: tuple[float, float],
    *,
    size: int,
    colour: Colour = INK,
    plate: int = 0,
) -> None:
    """Write text centred on ``place``; ``plate`` pads it with a paper-coloured ground, [px]."""
    font = _font(size)
    left, top, right, bottom = font.getbbox(text)
    wide, high = int(right - left) + 2 * plate + 2, int(bottom - top) + 2 * plate + 2
    x = int(np.clip(place[0] - wide / 2, 0, max(0, canvas.shape[1] - wide)))
    y = int(np.clip(place[1] - high / 2, 0, max(0, canvas.shape[0] - high)))
    room = canvas[y : y + high, x : x + wide]
    tile = Image.fromarray(np.ascontiguousarray(room[..., ::-1]))
    draw = ImageDraw.Draw(tile)
    if plate:
        draw.rounded_rectangle((0, 0, wide - 1, high - 1), radius=plate, fill=PAPER[::-1])
    draw.text((plate - left + 1, plate - top + 1), text, font=font, fill=colour[::-1])
    room[:] = np.asarray(tile)[..., ::-1]


def png(canvas: np.ndarray) -> bytes:
    """Code a picture as PNG."""
    done, coded = cv2.imencode(".png", canvas, [cv2.IMWRITE_PNG_COMPRESSION, 3])
    if not done:
        raise RuntimeError("the picture could not be coded as PNG")
    return bytes(coded.tobytes())


def shrink(canvas: np.ndarray, width_px: int) -> np.ndarray:
    """Return a picture reduced to a width, [px]; a narrower one stays as it is."""
    height, width = canvas.shape[:2]
    if width <= width_px:
        return canvas
    size = (width_px, max(1, round(height * width_px / width)))
    return cv2.resize(canvas, size, interpolation=cv2.INTER_AREA)
