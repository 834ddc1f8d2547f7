"""Read one face from a photograph or from a typed loupe reading.

`read_photo` serves ``lapwright face``; `read_filed_face` makes the body of a
``FaceRead`` act. A picture that is no picture is refused; a picture that
cannot be measured is filed with the code of its refusal, because that is what
happened and a person must re-prepare or read by loupe.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import hypot
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lapwright.core.errors import LapwrightError, QuantityRefused
from lapwright.core.quantities import Quantity, length
from lapwright.rules.faces import NO_ENDS

from .casefiles import CaseFiles

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

    photo = open_photo(data, where=where)
    scale = {"px_per_mm": px_per_mm, "px_per_mm_u": px_per_mm_u, "overlap_mm": overlap_mm}
    try:
        return read_opened(photo, tube_end, cup_face, **scale)
    except LapwrightError as fault:
        raise fault.at(f"{where}:" if where and fault.where else where) from None


def read_opened(
    photo: Photo, tube_end: Point | None, cup_face: Point | None, **scale: float | None
) -> FaceMeasurement:
    """Measure a face on a photograph that is already decoded.

    Parameters
    ----------
    photo : Photo
        From `lapwright.measure.image.open_photo`; not modified.
    tube_end, cup_face : pair of float, optional
        The ends, as `read_photo` takes them.
    **scale
        ``px_per_mm``, ``px_per_mm_u`` and ``overlap_mm``, as `read_photo` takes them.

    Raises
    ------
    LapwrightError
        MEAS codes for pictures that cannot be measured.
    """
    from lapwright.measure.alone import read_alone
    from lapwright.measure.face import read_face

    how: dict[str, Any] = dict(scale)
    if tube_end is None or cup_face is None:
        return read_alone(photo, **how)
    return read_face(photo, tube_end, cup_face, **how)


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
    }
    if "loupe" in reading:
        return body | _by_loupe(reading["loupe"], where, instruments), ()
    digest, data = files.read(reading["photo"], where=f"{where}.photo")
    progress(f"{face}: {Path(reading['photo']).name}")
    figures, measured = _by_photo(data, reading, where)
    if measured is not None:
        files.measured.setdefault(face, (digest, measured))
    return body | figures, (digest,)


def _by_photo(
    data: bytes, reading: Doc, where: str
) -> tuple[dict[str, Any], FaceMeasurement | None]:
    from lapwright.measure.face import read_face
    from lapwright.measure.image import open_photo
    from lapwright.measure.pixels import pixels_sha256

    body: dict[str, Any] = {"way": "photo", "photo": reading["photo"]}
    photo = open_photo(data, where=f"{where}.photo: {reading['photo']}")
    body["pixels_sha256"] = pixels_sha256(photo)
    if "tube_end" not in reading or "cup_face" not in reading:
        return body | {"refused": NO_ENDS}, None
    scale = reading.get("px_per_mm")
    try:
        m = read_face(
            photo,
            _point(reading["tube_end"]),
            _point(reading["cup_face"]),
            px_per_mm=float(scale) if scale else None,
            px_per_mm_u=float(reading["px_per_mm_u"]) if "px_per_mm_u" in reading else None,
        )
    except LapwrightError as fault:
        if fault.code in _GEOMETRY:
            raise fault.at(where) from None
        ends = {k: list(reading[k]) for k in ("tube_end", "cup_face")}
        return body | ends | {"refused": fault.code, "refusal": str(fault)}, None
    return body | measurement_body(m) | _stretch(m, photo), m


def _stretch(m: FaceMeasurement, photo: Photo) -> dict[str, str]:
    """Return whether the ends were given or found, and the spread of the overlap."""
    from lapwright.measure.settings import DEFAULT

    found: dict[str, str] = {"ends": "found" if getattr(m, "ends_found", "") == "both" else "given"}
    if m.overlap_mm is not None:
        ends = DEFAULT.default_ends_of_picture * max(photo.width, photo.height)
        in_mm = ends * m.overlap_mm / m.overlap_px
        found["overlap_u"] = f"{hypot(m.overlap_mm_u or 0.0, in_mm, in_mm):.4f} mm"
    return found


# ends that lie outside the picture or on one spot are slips of typing: the case is refused
_GEOMETRY = ("MEAS-006", "MEAS-008", "MEAS-009", "MEAS-017")


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
    }


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
