"""Look at everything that a measured face shows beside its share."""

from __future__ import annotations

import numpy as np

from lapwright.measure.hues import Optics, dilutions
from lapwright.measure.image import Photo
from lapwright.measure.settings import DEFAULT
from lapwright.measure.values import FaceMeasurement

from .cracks import find_crack_lines
from .excess import find_bore, measure_behind, measure_bore
from .frame import WEIGHTS, Frame, lay_straight
from .mouth import measure_fillet
from .sound import sound_from_mouth
from .values import Besides

USUAL_BLUR_PX = 1.0  # of a photograph in focus; common practice, no source


def look_besides(photo: Photo, measurement: FaceMeasurement) -> Besides:
    """Return the sound length, fillet, extra fill and crack-like lines of a measured face.

    Parameters
    ----------
    photo : Photo
        The picture; not modified.
    measurement : FaceMeasurement
        Its reading; gives line, segments, gap and scale.

    Returns
    -------
    Besides
        Each part says ``seen``, ``nothing-seen`` or ``not-measured`` with its reason.
    """
    frame = lay_straight(photo, measurement)
    filler = filler_tone(frame, measurement)
    bore = find_bore(frame)
    return Besides(
        sound=sound_from_mouth(measurement.segments),
        fillet=measure_fillet(frame, filler),
        behind=measure_behind(frame, bore, filler),
        bore=measure_bore(frame, bore, filler),
        lines=find_crack_lines(photo, measurement, cup_side=frame.cup_side),
        overlap_px=measurement.overlap_px,
        overlap_mm=measurement.overlap_mm,
    )


def filler_tone(frame: Frame, measurement: FaceMeasurement) -> np.ndarray | None:
    """Return what the filler of the joint looks like where it stands free, or None without any.

    Parameters
    ----------
    frame : Frame
        The face laid straight.
    measurement : FaceMeasurement
        Says where the joint is brazed and how wide its gap is.

    Notes
    -----
    A narrow gap keeps only a part of its colour; what is lost is reckoned from its width
    with the blur of a photograph in focus (`lapwright.measure.hues.dilutions`).
    """
    reach = max(0, round(0.2 * frame.gap))
    rows = slice(frame.middle - reach, frame.middle + reach + 1)
    parts = [
        frame.tone[rows, _column(frame, s.start) : _column(frame, s.end)]
        for s in measurement.segments
        if s.state == "brazed"
    ]
    seen = np.concatenate([np.zeros((0, 3)), *(p.reshape(-1, 3) for p in parts)])
    if len(seen) < 10:
        return None
    kept = np.zeros(3)
    for left, chance in dilutions(Optics(measurement.gap_px, USUAL_BLUR_PX), DEFAULT):
        kept += chance * np.array(left)
    usual = np.median(seen, axis=0) / np.maximum(kept, 0.25)
    usual[0] = max(usual[0], -WEIGHTS[0])  # no light is the darkest there is
    return np.asarray(usual)


def _column(frame: Frame, share: float) -> int:
    return frame.first + round(share * frame.cells)
