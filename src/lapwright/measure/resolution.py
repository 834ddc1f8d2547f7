"""What a picture file says about its own scale, where that can be meant seriously.

Cameras and programs write 72, 96, 300 and the like without having measured
anything; such figures are not used. A flatbed scanner or a microscope camera that
knows its scale writes another one, and then it is worth comparing.
"""

from __future__ import annotations

import io
import warnings

from PIL import Image

from .image import FORMATS

MM_PER_INCH = 25.4  # exact by definition
EMPTY_DPI = (1.0, 72.0, 96.0, 180.0, 240.0, 300.0, 350.0)  # written unmeasured; common practice
LARGEST_DPI = 250_000.0  # a tenth of a micrometre a pixel, finer than light resolves
_X_RESOLUTION, _UNIT = 282, 296  # TIFF 6.0, baseline tags
_PER_INCH = {2: 1.0, 3: 2.54}


def said_px_per_mm(data: bytes) -> float | None:
    """Return the scale that a picture file states, [px/mm]; None where it states none.

    Parameters
    ----------
    data : bytes
        The file. EXIF or TIFF tags count before JFIF density and PNG pHYs.
    """
    dpi = _stated_dpi(data)
    if dpi is None or not 1 < dpi < LARGEST_DPI:
        return None
    if any(abs(dpi - empty) < 0.6 for empty in EMPTY_DPI):
        return None
    return dpi / MM_PER_INCH


def _stated_dpi(data: bytes) -> float | None:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=FORMATS) as head:
                tags = head.getexif()
                x = tags.get(_X_RESOLUTION)
                factor = _PER_INCH.get(int(tags.get(_UNIT, 2) or 2))
                if x is not None and factor is not None:
                    return float(x) * factor
                pair = head.info.get("dpi")
                return None if pair is None else float(pair[0])
    except (OSError, ValueError, SyntaxError, TypeError, EOFError, ZeroDivisionError):
        return None  # the header is judged by `open_photo`; here it only says nothing


def apart(said: float, measured: float) -> float:
    """Return how far two scales lie apart, as a share of the measured one, [-].

    Parameters
    ----------
    said, measured : float
        Scales, [px/mm].
    """
    return abs(said / measured - 1)
