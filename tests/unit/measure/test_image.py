"""Photographs are opened safely, once the right way up. Witness: Pillow."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageOps

from lapwright.measure.errors import (
    PhotoIsHeic,
    PhotoTooLarge,
    PhotoTooSmall,
    PhotoTruncated,
    PhotoUnreadable,
)
from lapwright.measure.image import open_photo, photo_from_pixels


def picture() -> Image.Image:
    y, x = np.mgrid[0:90, 0:140]
    return Image.fromarray(np.stack([x, y, (x + y) // 2], axis=-1).astype(np.uint8))


def coded(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    picture().save(out, kind, **options)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "BMP"])
def test_lossless_formats_give_the_pixels_pillow_gives(kind: str) -> None:
    photo = open_photo(coded(kind))
    assert photo.format == kind
    assert (photo.width, photo.height) == (140, 90)
    np.testing.assert_array_equal(photo.pixels[..., ::-1], np.asarray(picture()))


@pytest.mark.parametrize("kind", ["JPEG", "WEBP"])
def test_lossy_formats_come_close_to_the_pixels_pillow_gives(kind: str) -> None:
    photo = open_photo(coded(kind, quality=95))
    gone = photo.pixels[..., ::-1].astype(int) - np.asarray(picture())
    assert np.abs(gone).mean() < 4


def png_header(head: bytes) -> bytes:
    """A PNG that announces a size and holds almost nothing."""
    chunk = struct.pack(">I", 13) + b"IHDR" + head + struct.pack(">I", zlib.crc32(b"IHDR" + head))
    return b"\x89PNG\r\n\x1a\n" + chunk + struct.pack(">I", 10) + b"IDAT" + bytes(14)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
@pytest.mark.parametrize("turn", range(1, 9))
def test_exif_rotation_is_applied_once(turn: int, kind: str) -> None:
    exif = Image.Exif()
    exif[0x0112] = turn
    out = io.BytesIO()
    picture().save(out, kind, exif=exif)
    with Image.open(io.BytesIO(out.getvalue())) as again:
        upright = np.asarray(ImageOps.exif_transpose(again).convert("RGB"))
    photo = open_photo(out.getvalue())
    np.testing.assert_array_equal(photo.pixels[..., ::-1], upright)
    assert photo.exif_orientation == turn


def test_the_hash_is_that_of_the_file() -> None:
    data = coded("PNG")
    assert open_photo(data).sha256 == hashlib.sha256(data).hexdigest()


def test_pixels_of_a_photo_cannot_be_changed_and_the_source_stays() -> None:
    source = np.zeros((80, 80, 3), np.uint8)
    photo = photo_from_pixels(source)
    with pytest.raises(ValueError, match="read-only"):
        photo.pixels[0, 0] = 1
    source[0, 0] = 9
    assert photo.pixels[0, 0].tolist() == [0, 0, 0]


@pytest.mark.parametrize(
    "data", [b"", b"no picture at all", b"GIF89a" + bytes(60), b"\xff\xd8\xff\xe0" + bytes(100)]
)
def test_bytes_that_are_no_picture_are_refused(data: bytes) -> None:
    with pytest.raises((PhotoUnreadable, PhotoTruncated)):
        open_photo(data, where="face.jpg")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "BMP", "WEBP"])
def test_a_truncated_file_is_refused(kind: str) -> None:
    data = coded(kind)
    with pytest.raises((PhotoTruncated, PhotoUnreadable)):
        open_photo(data[: len(data) * 6 // 10])


def test_a_jpeg_cut_before_its_end_is_refused_although_its_thumbnail_is_whole() -> None:
    thumb = coded("JPEG", quality=30)
    whole = coded("JPEG", quality=90, exif=b"Exif\x00\x00" + thumb)
    assert open_photo(whole).width == 140
    with pytest.raises(PhotoTruncated):
        open_photo(whole[:-40])


def test_a_decompression_bomb_is_refused_from_its_header() -> None:
    head = struct.pack(">IIBBBBB", 60000, 60000, 8, 2, 0, 0, 0)
    with pytest.raises(PhotoTooLarge, match="89 megapixels"):
        open_photo(png_header(head))


def test_a_picture_just_over_the_limit_is_refused() -> None:
    head = struct.pack(">IIBBBBB", 9500, 9500, 8, 2, 0, 0, 0)
    with pytest.raises(PhotoTooLarge, match="9500 x 9500"):
        open_photo(png_header(head))


def test_a_tiny_picture_is_refused() -> None:
    out = io.BytesIO()
    picture().resize((50, 80)).save(out, "PNG")
    with pytest.raises(PhotoTooSmall, match="50 x 80"):
        open_photo(out.getvalue())


def test_a_heic_picture_is_refused_with_the_way_out() -> None:
    with pytest.raises(PhotoIsHeic, match="JPEG"):
        open_photo(b"\x00\x00\x00\x18ftypheic" + bytes(40), where="a.heic")


def test_pixels_of_another_kind_are_a_programming_mistake() -> None:
    with pytest.raises(TypeError, match="uint8"):
        photo_from_pixels(np.zeros((80, 80), np.uint8))
