"""The hash of a picture's pixels against pictures turned by Pillow."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image, ImageOps

from lapwright.measure.image import open_photo, photo_from_pixels
from lapwright.measure.pixels import pixels_sha256


def _drawn() -> Image.Image:
    rng = np.random.default_rng(7)
    return Image.fromarray(rng.integers(0, 255, (80, 120, 3), dtype=np.uint8))


def _png(picture: Image.Image, **more: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG", **more)
    return out.getvalue()


@pytest.mark.parametrize("mark", [1, 3, 6, 8])
def test_a_turn_by_mark_is_the_turn_itself(mark: int) -> None:
    marks = Image.Exif()
    marks[0x0112] = mark
    marked = _png(_drawn(), exif=marks.tobytes())
    with Image.open(io.BytesIO(marked)) as opened:
        turned = ImageOps.exif_transpose(opened)
    one, two = open_photo(marked), open_photo(_png(turned))
    assert one.sha256 != two.sha256
    assert pixels_sha256(one) == pixels_sha256(two)


def test_one_changed_pixel_or_another_shape_is_another_picture() -> None:
    pixels = np.zeros((64, 96, 3), np.uint8)
    changed = pixels.copy()
    changed[10, 10, 1] = 1
    hashes = {
        pixels_sha256(photo_from_pixels(p))
        for p in (pixels, changed, pixels.reshape(96, 64, 3), pixels[:, :64])
    }
    assert len(hashes) == 4
