"""Read one prepared section face from a photograph, its two ends given.

Between the ends the joint line is traced, the picture straightened along it,
and every stretch classed from its place between two copper walls, its colour
beside copper and surroundings, and its texture. What cannot be told apart is
*unsure* and widens the interval; what cannot be read is refused with a code.
Only the stretch between the ends counts: neither the fillet beyond the cup
face nor the gap behind the tube end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from lapwright.core.messages import Message

from . import checks
from .budget import Positions, combined, share_budget
from .classes import Classed, Known, class_runs
from .ends import Ends, given_ends, snap_ends
from .errors import ScaleRefused
from .fillet import Fillet, see_fillet
from .hues import Optics, mean_dilution
from .image import Photo
from .runs import Run, Series, averaged, cut_runs, shortest_seen, thin_out
from .segments import both_countings, expected_share, join_segments, unsure_share
from .settings import DEFAULT, FaceSettings
from .strip import arc_length, normals
from .throws import throw_runs
from .trace import Trace, trace_line
from .values import FaceMeasurement, Point, Segment
from .walls import (
    Gap,
    Outside,
    Profile,
    look_outside,
    measure_gap,
    profile_gap,
    shifted_colour,
    strip_along,
)


@dataclass(frozen=True)
class _Seen:
    """Everything read from the pixels before anything is classed."""

    trace: Trace
    strip: np.ndarray
    gap: Gap
    profile: Profile
    series: Series
    outside: Outside
    blur_px: float
    fillet: Fillet | None

    @property
    def optics(self) -> Optics:
        return Optics(self.gap.width_px, self.blur_px)


def read_face(
    photo: Photo,
    tube_end: Point,
    cup_face: Point,
    *,
    px_per_mm: float | None = None,
    px_per_mm_u: float | None = None,
    overlap_mm: float | None = None,
    ends_u_px: float | None = None,
    snap: str = "yes",
) -> FaceMeasurement:
    """Measure the unbrazed share of one face between two given ends.

    Parameters
    ----------
    photo : Photo
        From `lapwright.measure.image.open_photo`; not modified.
    tube_end, cup_face : tuple of float
        Ends of the overlap (x, y), [px], after EXIF rotation.
    px_per_mm : float, optional
        Scale; a share needs none, a length does.
    px_per_mm_u : float, optional
        Standard uncertainty of the scale; 1 % of it when left out.
    overlap_mm : float, optional
        Overlap known from elsewhere, [mm]; gives the length instead of a scale.
    ends_u_px : float, optional
        Standard uncertainty of each end, [px]; 0.25 % of the longer side when left out.
    snap : str, optional
        ``yes`` moves ends by up to 2.5 % of the longer side onto marks that are
        plain in the picture; ``no`` leaves them as given.

    Returns
    -------
    FaceMeasurement
        Share, interval, segments, budget, line.

    Raises
    ------
    EndsRefused, EndsOutsidePhoto, EndsTooClose, PhotoFlat, PhotoClipped, PhotoColourless
        Ends or light that allow no reading.
    NoCopperWalls, NoJointLine, GapTooThin, PhotoBlurred, FinishTooCoarse
        No joint there, or none that can be read.
    ScaleRefused
        Scale or overlap not positive, or both given.
    """
    settings = DEFAULT
    scale = _scale(px_per_mm, px_per_mm_u, overlap_mm)
    ends = (_point(tube_end), _point(cup_face))
    checks.check_ends(photo, ends, settings)
    longer = max(photo.width, photo.height)
    u = settings.default_ends_of_picture * longer if ends_u_px is None else ends_u_px
    found = given_ends(*ends, u_px=u)
    if snap == "yes":
        slack = settings.snap_of_picture * longer
        found = snap_ends(photo.pixels, *ends, slack_px=slack, given_u_px=u, settings=settings)
    seen = _look(photo, (found.tube_end, found.cup_face), settings)
    _refuse_unreadable(seen, settings)
    measured = _measure(photo, found, seen, scale, settings)
    return replace(measured, given_px=ends)


def _point(end: Point) -> Point:
    x, y = end
    return float(x), float(y)


@dataclass(frozen=True)
class _Scale:
    px_per_mm: float | None
    relative_u: float
    overlap_mm: float | None

    def length(self, overlap_px: float) -> tuple[float | None, float | None]:
        if self.overlap_mm is not None:
            return self.overlap_mm, None
        if self.px_per_mm is None:
            return None, None
        length = overlap_px / self.px_per_mm
        return length, length * self.relative_u


def _scale(px_per_mm: float | None, u: float | None, overlap_mm: float | None) -> _Scale:
    for name, value in (("px_per_mm", px_per_mm), ("overlap_mm", overlap_mm)):
        if value is not None and not 0 < value < float("inf"):
            raise ScaleRefused(
                f"{name} is no positive number",
                got=value,
                expected="above 0",
                do="Give the scale as pixels per millimetre, or leave it out.",
            )
    if u is not None and not 0 <= u < float("inf"):
        raise ScaleRefused(
            "px_per_mm_u is no spread",
            got=u,
            expected="0 or more",
            do="Give the standard uncertainty of the scale, or leave it out.",
        )
    if px_per_mm is not None and overlap_mm is not None:
        raise ScaleRefused(
            "scale and overlap are both given",
            got=(px_per_mm, overlap_mm),
            expected="one of them",
            do="Leave out the one you did not measure.",
        )
    if px_per_mm is None:
        return _Scale(None, 0.0, overlap_mm)
    return _Scale(px_per_mm, (0.01 * px_per_mm if u is None else u) / px_per_mm, None)


def _look(photo: Photo, ends: tuple[Point, Point], settings: FaceSettings) -> _Seen:
    trace = trace_line(photo.pixels, *ends, settings)
    guess = max(2.0, 2.2 * trace.scale_px)
    strip = strip_along(photo.pixels, trace, max(14.0, 6 * guess))
    checks.check_light(strip, settings)
    gap = measure_gap(strip, guess)
    need = max(14.0, 4 * gap.width_px + 10)
    if need < 0.6 * (strip.shape[0] // 2) or need > strip.shape[0] // 2:
        strip = strip_along(photo.pixels, trace, need)
        gap = measure_gap(strip, gap.width_px)
    profile = profile_gap(strip, gap, settings)
    outside = look_outside(photo.pixels, trace, gap.width_px)
    blur = checks.blur_px(strip, 1.5 * gap.width_px + 4)
    fillet = see_fillet(photo.pixels, trace, profile, outside, Optics(gap.width_px, blur))
    return _Seen(trace, strip, gap, profile, thin_out(profile, settings), outside, blur, fillet)


def _refuse_unreadable(seen: _Seen, settings: FaceSettings) -> None:
    checks.check_walls(seen.profile, settings)
    checks.check_line(checks.visibility(seen.series, seen.profile), seen.gap.width_px, settings)
    checks.check_sharpness(seen.blur_px, len(seen.trace.points), seen.gap.width_px, settings)
    checks.check_finish(seen.profile, settings)


def _class(runs: list[Run], seen: _Seen, settings: FaceSettings) -> Classed:
    copper = np.median(seen.profile.copper, axis=(0, 1))
    known = Known(seen.outside, copper, seen.optics, seen.fillet)
    return class_runs(runs, known, steps=seen.series.colour.shape[0], settings=settings)


def _measure(
    photo: Photo,
    ends: Ends,
    seen: _Seen,
    scale: _Scale,
    settings: FaceSettings,
) -> FaceMeasurement:
    steps = seen.series.colour.shape[0]
    edge = _edge_px(seen) * steps / len(seen.trace.points)
    runs = cut_runs(seen.series, settings, edge_steps=edge, gap_px=seen.gap.width_px)
    classed = _class(runs, seen, settings)
    unseen = _shortest_void(seen, settings)
    hidden = unseen if unseen > settings.max_unseen else 0.0
    segments = join_segments(runs, classed.unbrazed, steps, settings)
    spread = throw_runs(runs, classed, steps, settings)
    centre = seen.trace.points + seen.gap.centre[:, None] * normals(seen.trace.points)
    overlap = float(arc_length(_thinned(centre))[-1])
    budget = share_budget(
        segments,
        overlap_px=overlap,
        positions=_positions(seen, ends, overlap / steps, settings),
        line_u=_line_u(runs, seen, classed, settings),
        class_doubt=spread.class_doubt(),
    )
    other_u = combined(budget, without=("class_doubt",))
    budget += (("scale", scale.relative_u),)  # listed for the length; a share does not feel it
    low, high = spread.interval(other_u, both_countings(segments))
    interval = (low, min(1.0, high + hidden))  # a slight void that long would not show
    checks.check_interval(interval, settings)
    share = expected_share(segments)
    length, length_u = scale.length(overlap)
    return FaceMeasurement(
        overlap_px=overlap,
        overlap_mm=length,
        overlap_mm_u=length_u,
        segments=segments,
        unbrazed_share=share,
        u=combined(budget),
        interval95=interval,
        unsure_share=unsure_share(segments),
        needs_reader=_hides_voids(hidden) or _needs_reader(segments, classed, seen, settings),
        tube_end_px=ends.tube_end,
        cup_face_px=ends.cup_face,
        ends_found=ends.found,
        line=tuple((float(x), float(y)) for x, y in _thinned(centre)),
        gap_px=seen.gap.width_px,
        budget=budget,
        method=settings.method(),
        image_sha256=photo.sha256,
        warnings=_warnings(seen, scale),
    )


def _shortest_void(seen: _Seen, settings: FaceSettings) -> float:
    """Shortest void that would show, [-]: noise and blur together may hide longer ones."""
    kept = mean_dilution(seen.optics, settings)
    return shortest_seen(seen.series, kept, settings)


def _edge_px(seen: _Seen) -> float:
    """Length along the line over which a rounded, blurred void end mixes two looks, [px]."""
    return 0.5 * seen.gap.width_px + 2 * seen.blur_px + 1


def _positions(seen: _Seen, ends: Ends, step_px: float, settings: FaceSettings) -> Positions:
    blur = settings.boundary_of_blur * max(1.0, seen.blur_px)
    return Positions(
        (ends.tube_u_px, ends.cup_u_px),
        boundary_u(step_px, settings),
        common_u=float(np.hypot(settings.boundary_of_gap * seen.gap.width_px, blur)),
        stub=settings.stub_of_edge * _edge_px(seen),
    )


def boundary_u(step_px: float, settings: FaceSettings) -> float:
    """Standard uncertainty of where one void ends, apart from the others of its face, [px]."""
    return settings.boundary_px + 0.25 * step_px


def _thinned(points: np.ndarray) -> np.ndarray:
    """About 200 points: enough for a bowed line, and noise adds no length."""
    keep = np.unique(np.linspace(0, len(points) - 1, 200).astype(int))
    return np.asarray(points[keep])


def _line_u(runs: list[Run], seen: _Seen, classed: Classed, settings: FaceSettings) -> float:
    """Half the change of the share when the core is moved a fifth of the gap to either side."""
    shares = []
    for shift in (-0.2, 0.2):
        gap, copper = seen.gap, seen.profile.copper
        moved = averaged(shifted_colour(seen.strip, gap, copper, shift, settings), settings)
        again = [
            replace(run, colour=np.median(moved[run.start : run.end], axis=0), rough=0.0)
            for run in runs
        ]
        chance = _class(again, seen, settings).unbrazed
        size = np.array([r.end - r.start for r in runs]) / moved.shape[0]
        shares.append(float(size @ chance))
    return abs(shares[1] - shares[0]) / 2


def _hides_voids(hidden: float) -> str:
    return "noise-may-hide-voids" if hidden > 0 else ""


def _needs_reader(
    segments: tuple[Segment, ...], classed: Classed, seen: _Seen, settings: FaceSettings
) -> str:
    if classed.rivalry > settings.reader_rivalry:
        return "filler-and-residue-look-alike"
    if seen.fillet is None:
        return "no-fillet-to-compare"
    if classed.unlike_fillet > settings.reader_unlike_share:
        return "fill-unlike-fillet"
    if checks.flat_share(seen.strip, seen.gap.width_px) > settings.reader_flat_share:
        return "smoothed-picture"
    if unsure_share(segments) > settings.reader_unsure_share:
        return "unsure-stretches"
    return ""


def _warnings(seen: _Seen, scale: _Scale) -> tuple[Message, ...]:
    found = []
    if not seen.outside.colours:
        found.append(Message("meas.warning.no-surroundings"))
    if seen.gap.width_px < 3:
        found.append(Message("meas.warning.thin-gap", gap=f"{seen.gap.width_px:.1f}"))
    if float(seen.profile.trust.mean()) < 0.97:
        found.append(Message("meas.warning.burnt-light"))
    if scale.px_per_mm is not None and scale.relative_u == 0:
        found.append(Message("meas.warning.scale-without-spread"))
    return tuple(found)
