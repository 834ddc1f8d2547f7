"""Read one face from a photograph or from a typed loupe reading.

`read_photo` serves ``lapwright face``; `read_filed_face` makes the body of a
``FaceRead`` act. A picture that is no picture is refused; a picture that
cannot be measured is filed with the code of its refusal, because that is what
happened and a person must re-prepare or read by loupe.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.errors import LapwrightError, QuantityRefused
from lapwright.core.evidence import FOUND_ALONE
from lapwright.core.quantities import Quantity, length
from lapwright.rules.faces import NO_ENDS

from .besidesview import dark_lines, sound_body
from .casefiles import CaseFiles
from .memberview import raised_walls
from .text import word

if TYPE_CHECKING:
    from lapwright.measure.image import Photo
    from lapwright.measure.values import FaceMeasurement

Doc = Mapping[str, Any]
Point = tuple[float, float]


def read_photo(
    data: bytes,
    tube_end: Point | None,
    cup_face: Point | None,
    *,
    px_per_mm: float | None = None,
    px_per_mm_u: float | None = None,
    overlap_mm: float | None = None,
    where: str = "",
) -> FaceMeasurement:
    """Measure a face on a photograph.

    Parameters
    ----------
    data : bytes
        The photograph's file.
    tube_end, cup_face : pair of float, optional
        The ends, [px] after EXIF rotation, first pixel's centre at (0, 0); without
        them the joint is looked for.
    px_per_mm, px_per_mm_u : float, optional
        Scale and its standard uncertainty, [px/mm].
    overlap_mm : float, optional
        Known overlap, [mm], where no scale is given.
    where : str, optional
        Place for messages.

    Raises
    ------
    LapwrightError
        MEAS codes for files and pictures that cannot be measured.
    """
    from lapwright.measure.image import open_photo

    scale: dict[str, Any] = {"px_per_mm": px_per_mm, "px_per_mm_u": px_per_mm_u}
    scale["overlap_mm"] = overlap_mm
    return read_opened(open_photo(data, where=where), tube_end, cup_face, where=where, **scale)


def read_opened(
    photo: Photo, tube_end: Point | None, cup_face: Point | None, *, where: str = "", **scale: Any
) -> FaceMeasurement:
    """Measure a face on a photograph that is open already.

    Parameters
    ----------
    photo : Photo
        From `lapwright.measure.image.open_photo`.
    tube_end, cup_face : pair of float, optional
        The ends, [px]; without them the joint is looked for.
    where : str, optional
        Place for messages.
    **scale
        ``px_per_mm``, ``px_per_mm_u`` and ``overlap_mm`` as `read_photo` takes them.

    Raises
    ------
    LapwrightError
        MEAS codes for pictures that cannot be measured.
    """
    from lapwright.measure.alone import read_alone
    from lapwright.measure.face import read_face

    try:
        if tube_end is None or cup_face is None:
            return read_alone(photo, **scale)
        return read_face(photo, tube_end, cup_face, **scale)
    except LapwrightError as fault:
        if not where:
            raise
        raise fault.at(f"{where}:" if fault.where else where) from None


_AS_TYPED = ("dark_line", "dark_line_reason", "after_calibration")


def read_filed_face(
    face: str,
    reading: Doc,
    files: CaseFiles,
    progress: Callable[[str], None],
    *,
    where: str,
    instruments: Doc,
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return the body of a ``FaceRead`` act and the digests of its files.

    Parameters
    ----------
    face : str
        Id of the face.
    reading : mapping
        One reading of ``case.yaml``: by photograph or by loupe.
    files : CaseFiles
        Reader of the folder's files.
    progress : callable
        Told before a photograph is measured.
    where : str
        Place for messages.
    instruments : mapping
        The case's instruments, by id; a loupe's filed resolution counts.
    """
    body: dict[str, Any] = {
        "face": face,
        "reader": reading["by"],
        "blind": reading.get("blind", ""),
        "accepted_by": reading.get("accepted_by", ""),
        "remark": reading.get("remark", ""),
        **{k: reading[k] for k in _AS_TYPED if k in reading},
    }
    if "loupe" in reading:
        return body | _by_loupe(reading["loupe"], where, instruments), ()
    digest, data = files.read(reading["photo"], where=f"{where}.photo")
    progress(f"{face}: {Path(reading['photo']).name}")
    if slip := one_end(reading):
        progress(f"{face}: {slip}")
    figures, measured = _by_photo(data, reading, where)
    if measured is not None:
        files.measured.setdefault(face, (digest, measured))
    return body | figures, (digest,)


def _by_photo(
    data: bytes, reading: Doc, where: str
) -> tuple[dict[str, Any], FaceMeasurement | None]:
    from lapwright.measure.image import open_photo
    from lapwright.measure.pixels import pixels_sha256

    body: dict[str, Any] = {"way": "photo", "photo": reading["photo"]}
    photo = open_photo(data, where=f"{where}.photo: {reading['photo']}")
    body["pixels_sha256"] = pixels_sha256(photo)
    typed = [k for k in ("tube_end", "cup_face") if k in reading]
    if len(typed) == 1:  # a slip: the other end is not guessed beside it
        return body | {"refused": NO_ENDS, "refusal": one_end(reading)}, None
    alone = {} if typed else _alone(reading)
    try:
        m = _measured(photo, reading)
    except LapwrightError as fault:
        if fault.code in (_SLIPS if typed else _SLIPS[-1:]):
            raise fault.at(where) from None
        ends = {k: list(reading[k]) for k in typed}
        return body | ends | alone | {"refused": fault.code, "refusal": str(fault)}, None
    raised = raised_walls(photo, m) | dark_lines(photo, m)
    return body | measurement_body(m) | _stretch(m, photo) | alone | raised, m


def one_end(reading: Doc) -> str:
    """Return which end of a photograph is missing beside the other, empty where none is.

    Parameters
    ----------
    reading : mapping
        One reading of ``case.yaml`` by photograph.
    """
    missing = [k for k in ("tube_end", "cup_face") if k not in reading]
    if len(missing) != 1:
        return ""
    return word(f"faceread.missing.{missing[0]}")


def _measured(photo: Photo, reading: Doc) -> FaceMeasurement:
    """Measure between the typed ends, or between those of the one plain joint."""
    keys = [k for k in ("px_per_mm", "px_per_mm_u") if k in reading]
    scale: dict[str, Any] = {k: float(reading[k]) for k in keys}
    ends = [_point(reading[k]) if k in reading else None for k in ("tube_end", "cup_face")]
    return read_opened(photo, *ends, **scale)


def _alone(reading: Doc) -> dict[str, str]:
    """Return that the program found the ends unasked, and who accepted the picture with them."""
    return {"ends": FOUND_ALONE, "ends_accepted_by": reading.get("ends_accepted_by", "")}


def _stretch(m: FaceMeasurement, photo: Photo) -> dict[str, str]:
    """Return whether the ends were given or found, and the spread of the overlap."""
    from lapwright.measure.settings import DEFAULT

    found: dict[str, str] = {"ends": "found" if getattr(m, "ends_found", "") == "both" else "given"}
    if m.overlap_mm is not None:
        ends = DEFAULT.default_ends_of_picture * max(photo.width, photo.height)
        in_mm = ends * m.overlap_mm / m.overlap_px
        found["scale_u"] = _text((m.overlap_mm_u or 0.0) / m.overlap_mm)
        found["overlap_u"] = f"{hypot(m.overlap_mm_u or 0.0, in_mm, in_mm):.4f} mm"
    return found


# ends that lie outside the picture or on one spot, and a scale that is none, are slips of typing:
# the case is refused
_SLIPS = ("MEAS-006", "MEAS-008", "MEAS-009", "MEAS-017")


def measurement_body(m: FaceMeasurement) -> dict[str, Any]:
    """Return the figures of an automatic reading as act text."""
    body: dict[str, Any] = {
        "share": _text(m.unbrazed_share),
        "u": _text(m.u),
        "low": _text(m.interval95[0]),
        "high": _text(m.interval95[1]),
        "unsure": _text(m.unsure_share),
        "needs_reader": m.needs_reader,
        "method": m.method,
        "tube_end": [_text(v, 2) for v in m.tube_end_px],
        "cup_face": [_text(v, 2) for v in m.cup_face_px],
        "overlap_px": _text(m.overlap_px, 2),
        "segments": [
            {
                "start": _text(s.start),
                "end": _text(s.end),
                "state": s.state,
                "probability": _text(s.probability, 3),
            }
            for s in m.segments
        ],
        "line": [f"{x:.1f},{y:.1f}" for x, y in m.line[:: max(1, len(m.line) // 200)]],
        "sound": sound_body(m.segments),
    }
    if m.overlap_mm is not None:
        body["overlap"] = f"{m.overlap_mm:.3f} mm"
    return body


def _by_loupe(loupe: Doc, where: str, instruments: Doc) -> dict[str, Any]:
    from lapwright.measure.loupe import read_loupe

    runs = [_run(r) for r in loupe["unbrazed"]]
    step = _coarser(loupe["resolution"], instruments.get(loupe.get("instrument", ""), {}))
    try:
        m = read_loupe(_mm(loupe["overlap"]), runs, resolution_mm=_mm(step))
    except LapwrightError as fault:
        raise fault.at(f"{where}.loupe") from None
    return {
        "way": "loupe",
        "instrument": loupe.get("instrument", ""),
        "method": m.method,
        "overlap": loupe["overlap"],
        "resolution": step,
        **({"resolution_typed": loupe["resolution"]} if step != loupe["resolution"] else {}),
        "share": _text(float(m.unbrazed_share)),
        "u": _text(float(m.u)),
        "low": _text(float(m.interval95[0])),
        "high": _text(float(m.interval95[1])),
        "unsure": "0",
        "needs_reader": "",
        "segments": [
            {
                "start": _text(float(s.start)),
                "end": _text(float(s.end)),
                "state": s.state,
                "probability": _text(float(s.probability), 3),
            }
            for s in m.segments
        ],
        "typed": [r if isinstance(r, str) else dict(r) for r in loupe["unbrazed"]],
        **_sound_by_loupe(loupe, m.segments),
    }


def _sound_by_loupe(loupe: Doc, segments: Sequence[Any]) -> dict[str, Any]:
    """Return the sound lengths where every run has its place: a bare length has none."""
    placed = all(not isinstance(run, str) for run in loupe["unbrazed"])
    return {"sound": sound_body(segments)} if placed else {}


def _coarser(typed: str, instrument: Doc) -> str:
    """Return the coarser of the resolution typed and the one filed of the instrument."""
    try:
        filed = length(instrument.get("resolution", ""))
    except QuantityRefused:  # not a length: the rules ask for it
        return typed
    return filed.text if filed > length(typed) else typed


def _run(run: str | Doc) -> Any:
    if isinstance(run, str):
        return _mm(run)
    return (_mm(run["start"]), _mm(run["end"]))


def _mm(text: str) -> Any:
    from decimal import Decimal

    exact = length(text).base
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def _point(pair: list[str]) -> Point:
    return float(pair[0]), float(pair[1])


def _text(value: float, places: int = 5) -> str:
    return f"{value:.{places}f}"


def quantity_mm(value: float) -> Quantity:
    """Return a length in mm as an exact quantity of three decimals."""
    return length(f"{value:.3f} mm")
