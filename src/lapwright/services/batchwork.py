"""What a worker does with one photograph: read it, draw its overlay small.

Takes and returns plain values, so that it runs in another process or on another
machine. The photograph comes by its way on this machine or as bytes.
"""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .errors import PhotoChanged
from .facereading import read_opened
from .scales import check_overlap
from .text import say, word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.values import FaceMeasurement

OVERLAY_PX = 700


def method() -> str:
    """Return the name of the reading's method with its version and settings."""
    from lapwright.measure.settings import DEFAULT

    return DEFAULT.method()


def read_one(job: dict[str, Any]) -> dict[str, Any]:
    """Read the face on one photograph.

    Parameters
    ----------
    job : dict
        ``data`` (bytes) or ``path``, ``sha256`` of the bytes expected, ``ask``
        (ends, scale or overlap; as `sidecars.Ask.as_dict`).

    Returns
    -------
    dict
        ``face``, the JSON document of a measured face, and ``overlay``, a JPEG.

    Raises
    ------
    PhotoChanged
        If the bytes are not those expected.
    LapwrightError
        Any refusal of the reading.
    """
    from lapwright.measure.image import open_photo

    data: bytes = job["data"] if job["data"] is not None else Path(job["path"]).read_bytes()
    found = hashlib.sha256(data).hexdigest()
    if found != job["sha256"]:
        raise PhotoChanged(
            "the photograph changed while it was being read",
            got=found,
            expected=job["sha256"],
            do="Let nothing write into the folder, and run again.",
        )
    ask = job["ask"]
    ends = (_point(ask["tube_end"]), _point(ask["cup_face"]))
    scale = {name: ask[name] for name in ("px_per_mm", "px_per_mm_u", "overlap_mm")}
    photo = open_photo(data)
    m = read_opened(photo, *ends, **scale)
    check_overlap(m)
    return {"face": _document(m), "overlay": _overlay(photo, m)}


def _point(pair: list[float] | None) -> tuple[float, float] | None:
    return None if pair is None else (pair[0], pair[1])


def _document(m: FaceMeasurement) -> dict[str, Any]:
    low, high = m.interval95
    text = word(
        "face.reading",
        share=f"{m.unbrazed_share * 100:.1f}",
        low=f"{low * 100:.1f}",
        high=f"{high * 100:.1f}",
        unsure=f"{m.unsure_share * 100:.1f}",
    )
    return m.as_dict(message=text) | {"warnings": [say(w) for w in m.warnings]}


def _overlay(photo: Photo, m: FaceMeasurement) -> bytes:
    import cv2
    import numpy as np

    from lapwright.measure.overlay import draw_overlay

    png = draw_overlay(photo, m, width_px=OVERLAY_PX)
    pixels = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)
    assert pixels is not None
    return bytes(cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 85])[1])
