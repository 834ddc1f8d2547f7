"""Make a small copy of a drawn picture for the printed page."""

from __future__ import annotations

import cv2
import numpy as np


def shrink_png(data: bytes, *, width_px: int) -> bytes:
    """Return a PNG reduced to a width; a narrower picture stays as it is.

    Parameters
    ----------
    data : bytes
        A PNG file.
    width_px : int
        Width wanted, [px].
    """
    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    if pixels is None:
        raise ValueError("not a picture that can be shrunk")
    height, width = pixels.shape[:2]
    if width <= width_px:
        return data
    size = (width_px, max(1, round(height * width_px / width)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    done, packed = cv2.imencode(".png", small, [cv2.IMWRITE_PNG_COMPRESSION, 3])
    if not done:
        raise ValueError("the small picture cannot be written")
    return packed.tobytes()
