"""Name a picture by what it shows: the hash of its decoded pixels.

Two files with other bytes (a changed remark, a trailing byte, saved again
without loss) show one picture when their pixels are the same after EXIF
rotation.
"""

from __future__ import annotations

import hashlib

from .image import Photo


def pixels_sha256(photo: Photo) -> str:
    """Return the SHA-256 of a photograph's size and pixels, as hexadecimal text.

    Parameters
    ----------
    photo : Photo
        From `lapwright.measure.image.open_photo`, after EXIF rotation.

    Notes
    -----
    A picture that was saved again with loss, cropped or brightened has other
    pixels. A 256-bit hash of brightness steps was tried for those: drawn
    pictures of two faces lay 32 bits apart, copies of one up to 31, so it tells
    nothing and is not used.
    """
    digest = hashlib.sha256(f"{photo.width} x {photo.height} BGR\n".encode())
    digest.update(photo.pixels.tobytes())
    return digest.hexdigest()
