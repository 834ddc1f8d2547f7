"""Open a photograph from bytes, safely and once the right way up.

The header is read before anything is decoded, so a picture that announces too
many pixels is refused without being unpacked. EXIF rotation is applied here,
once, and recorded. Coordinates count after that rotation; the centre of the
first pixel is (0, 0).
"""

from __future__ import annotations

import hashlib
import io
import re
import warnings
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image, UnidentifiedImageError

from .errors import (
    PhotoIsHeic,
    PhotoTooLarge,
    PhotoTooSmall,
    PhotoTruncated,
    PhotoUnreadable,
)

PIXEL_LIMIT = 89_478_485  # the guard of the header reader, about 89 million pixels
SMALLEST_SIDE_PX = 64
FORMATS = ("JPEG", "PNG", "TIFF", "BMP", "WEBP")
_HEIC_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif")
_ORIENTATION = 0x0112
_TURNS = {
    3: cv2.ROTATE_180,
    6: cv2.ROTATE_90_CLOCKWISE,
    8: cv2.ROTATE_90_COUNTERCLOCKWISE,
    5: cv2.ROTATE_90_CLOCKWISE,
    7: cv2.ROTATE_90_COUNTERCLOCKWISE,
}


@dataclass(frozen=True)
class Photo:
    """A decoded photograph; ``pixels`` is uint8, shape (height, width, 3), BGR, read-only."""

    pixels: np.ndarray
    sha256: str
    width: int
    height: int
    format: str
    exif_orientation: int


def open_photo(data: bytes, *, where: str = "") -> Photo:
    """Decode a photograph.

    Parameters
    ----------
    data : bytes
        The file as it is on disk; its SHA-256 names the evidence.
    where : str, optional
        File name for messages.

    Returns
    -------
    Photo
        Pixels after EXIF rotation.

    Raises
    ------
    PhotoUnreadable, PhotoIsHeic, PhotoTooLarge, PhotoTooSmall, PhotoTruncated
        For files that are no usable picture.
    """
    size, kind, orientation = _header(data, where)
    _check_complete(data, kind, where)
    pixels = _decode_tiff(data) if kind == "TIFF" else _decode(data, where)
    if pixels.shape[:2] != (size[1], size[0]):
        raise PhotoUnreadable(
            "header and picture disagree about the size",
            got=f"{pixels.shape[1]} x {pixels.shape[0]}",
            expected=f"{size[0]} x {size[1]} px",
            where=where,
            do="Save the photograph again from the camera's own program.",
        )
    upright = pixels if kind == "TIFF" else _turn(pixels, orientation)
    name = hashlib.sha256(data).hexdigest()
    return _photo(upright, sha256=name, format=kind, exif_orientation=orientation)


def photo_from_pixels(
    pixels: np.ndarray, *, sha256: str = "", format: str = "array", exif_orientation: int = 1
) -> Photo:
    """Wrap pixels that are already in memory; they are copied and made read-only.

    Parameters
    ----------
    pixels : ndarray of uint8, shape (height, width, 3)
        Blue, green, red.
    sha256 : str, optional
        Hash of the original file; that of the pixels when left out.
    format, exif_orientation : str, int, optional
        What the file said.
    """
    if pixels.dtype != np.uint8 or pixels.ndim != 3 or pixels.shape[2] != 3:
        raise TypeError(
            f"pixels must be uint8 (height, width, 3), got {pixels.dtype} {pixels.shape}"
        )
    kept = pixels.copy(order="C")
    name = sha256 or hashlib.sha256(kept.reshape(-1).data).hexdigest()
    return _photo(kept, sha256=name, format=format, exif_orientation=exif_orientation)


def _photo(pixels: np.ndarray, *, sha256: str, format: str, exif_orientation: int) -> Photo:
    """Wrap pixels that nobody else holds: no copy is made."""
    kept = np.ascontiguousarray(pixels)
    kept.flags.writeable = False
    return Photo(kept, sha256, kept.shape[1], kept.shape[0], format, exif_orientation)


def _header(data: bytes, where: str) -> tuple[tuple[int, int], str, int]:
    if data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS:
        raise PhotoIsHeic(
            "HEIC and AVIF pictures are not read",
            got=data[8:12].decode("latin-1"),
            expected="JPEG, PNG, TIFF, BMP or WebP",
            where=where,
            do="Save the photograph as JPEG at the highest quality, or set the camera to JPEG.",
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=FORMATS) as head:
                size, kind = head.size, str(head.format)
                _check_size(size, where)  # before EXIF, which unpacks some formats
                orientation = int(head.getexif().get(_ORIENTATION, 1) or 1)
    except Image.DecompressionBombError as bomb:
        told = re.search(r"\d+", str(bomb))  # the reader's sentence quotes a limit of its own
        got = f"{int(told[0]) // 1_000_000} megapixels" if told else "more"
        raise _too_large(got, where) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, TypeError, EOFError):
        raise PhotoUnreadable(
            "not a picture this tool reads",
            got=f"{len(data)} bytes of something else",
            expected="JPEG, PNG, TIFF, BMP or WebP",
            where=where,
            do="Give the photograph itself, saved as JPEG, PNG or TIFF.",
        ) from None
    kind = "JPEG" if kind == "MPO" else kind
    return size, kind, orientation if 1 <= orientation <= 8 else 1


def _too_large(got: str, where: str) -> PhotoTooLarge:
    return PhotoTooLarge(
        "too many pixels",
        got=got,
        expected=f"at most {PIXEL_LIMIT // 1_000_000} megapixels",
        where=where,
        do="Crop the photograph to the joint, or photograph at a lower setting.",
    )


def _check_size(size: tuple[int, int], where: str) -> None:
    if size[0] * size[1] > PIXEL_LIMIT:
        raise _too_large(f"{size[0]} x {size[1]} px", where)
    if min(size) < SMALLEST_SIDE_PX:
        raise PhotoTooSmall(
            "too few pixels",
            got=f"{size[0]} x {size[1]} px",
            expected=f"at least {SMALLEST_SIDE_PX} px on each side",
            where=where,
            do="Photograph the face again, closer or with a better camera.",
        )


def _check_complete(data: bytes, kind: str, where: str) -> None:
    """Refuse files that end too early; decoders would fill the rest with grey."""
    try:
        if kind == "JPEG":
            whole = _jpeg_has_end(data)
        else:
            with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
                picture.load()
            whole = 1
    except (OSError, ValueError, SyntaxError, EOFError):
        whole = 0
    if not whole:
        raise PhotoTruncated(
            "the file ends before the picture does",
            got=f"{len(data)} bytes",
            expected=f"a complete {kind} file",
            where=where,
            do="Copy the file again from the camera or the sender.",
        )


def _jpeg_has_end(data: bytes) -> int:
    """Find the end marker after the start of the scan; thumbnails lie before it."""
    place = 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        marker = data[place + 1]
        if marker == 0xDA:
            return int(data.find(b"\xff\xd9", place) > 0)
        if marker == 0xFF or 0xD0 <= marker <= 0xD7 or marker == 0x01:
            place += 1 if marker == 0xFF else 2
            continue
        place += 2 + int.from_bytes(data[place + 2 : place + 4], "big")
    return 0


def _decode(data: bytes, where: str) -> np.ndarray:
    flags = cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
    except cv2.error:
        pixels = None
    if pixels is None:
        raise PhotoUnreadable(
            "the picture cannot be decoded",
            got=f"{len(data)} bytes",
            expected="an undamaged picture file",
            where=where,
            do="Save the photograph again as JPEG, PNG or TIFF.",
        )
    return np.asarray(pixels)


def _decode_tiff(data: bytes) -> np.ndarray:
    """Decode TIFF, whose decoders turn the picture upright themselves: here Pillow does."""
    with Image.open(io.BytesIO(data), formats=("TIFF",)) as picture:
        return np.ascontiguousarray(np.asarray(picture.convert("RGB"))[..., ::-1])


def _turn(pixels: np.ndarray, orientation: int) -> np.ndarray:
    """Apply one of the eight EXIF orientations (EXIF 2.3, tag 274)."""
    turned = pixels
    if orientation in _TURNS:
        turned = cv2.rotate(turned, _TURNS[orientation])
    if orientation in (2, 5, 7):
        turned = cv2.flip(turned, 1)
    elif orientation == 4:
        turned = cv2.flip(turned, 0)
    return np.ascontiguousarray(turned)
