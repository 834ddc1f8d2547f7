"""Scale from a stage micrometer: its even fine lines are found without help.

The direction of the lines comes from the gradients, their spacing from the
autocorrelation of bands across them (the Wiener-Khinchin counterpart of the
spectrum), the scale from a straight line through the lines' places, each settled
to a fraction of a pixel. Longer lines at every fifth or tenth place only raise
whole multiples, which are recognised. Where two spacings could be the pitch the
picture is refused: a wrong harmonic would be wrong by a factor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from .errors import GraduationsAmbiguous, GraduationsUneven, NoGraduations, PitchRefused
from .image import Photo
from .scale import LENS_REL_U, PictureScale, firm

MIN_LINES = 9
MIN_PERIOD_PX = 5.0
PITCH_REL_U = 0.001  # graduation of a common stage micrometer; no source
MAX_TREND = 0.03
CLEAR = 0.5  # correlation from which a band counts as periodic
BANDS = 24
SEARCH_SIDE_PX = 900


@dataclass(frozen=True)
class _Lines:
    """Places of lines along their normal, [px], and their numbers."""

    places: np.ndarray
    numbers: np.ndarray


def micrometer_scale(photo: Photo, *, pitch_mm: float) -> PictureScale:
    """Scale of a picture of a stage micrometer.

    Parameters
    ----------
    photo : Photo
        The graduations, more or less straight on; not modified.
    pitch_mm : float
        Distance between neighbouring lines, the shortest there is, [mm].

    Returns
    -------
    PictureScale
        It holds for pictures taken with the same setting.

    Raises
    ------
    PitchRefused, NoGraduations, GraduationsAmbiguous, GraduationsUneven
        When there is no honest scale in it.
    """
    if not 0 < pitch_mm < math.inf:
        raise PitchRefused(
            "not a pitch",
            got=pitch_mm,
            expected="a distance above 0 mm",
            do="Give the distance between two neighbouring lines as the micrometer states it.",
        )
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_BGR2GRAY).astype(np.float32)
    angle = _direction(grey)
    upright = _turned(grey, angle)
    profile, period = _shortest_period(upright)
    lines = _number(_line_places(profile, period), period)
    return _fitted(lines, pitch_mm, angle)


def _direction(grey: np.ndarray) -> float:
    """Angle of the lines' normal against x, [rad]: by gradients, then by the sharpest bands."""
    soft = cv2.GaussianBlur(grey, (0, 0), 1.0)
    gx, gy = (cv2.Sobel(soft, cv2.CV_32F, *d) for d in ((1, 0), (0, 1)))
    xx, yy, xy = (float((a * b).mean()) for a, b in ((gx, gx), (gy, gy), (gx, gy)))
    if math.hypot(xx - yy, 2 * xy) < 0.15 * (xx + yy) or xx + yy < 1e-6:
        raise _none("no common direction of lines")
    angle = 0.5 * math.atan2(2 * xy, xx - yy)
    tile = _liveliest(grey, gx * gx + gy * gy)
    for reach, count in ((4.0, 17), (0.5, 11), (0.1, 9)):
        tries = angle + np.radians(np.linspace(-reach, reach, count))
        angle = float(max(tries, key=lambda turn: _sharpness(tile, float(turn))))
    return angle


def _liveliest(grey: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """Return the square of the picture with the most edges; all of a small picture."""
    step = SEARCH_SIDE_PX // 2
    size = tuple(max(1, n // step) for n in grey.shape[::-1])
    coarse = cv2.resize(slopes, size, interpolation=cv2.INTER_AREA)
    row, column = np.unravel_index(int(np.argmax(coarse)), coarse.shape)
    cell = np.array(grey.shape) / np.array(coarse.shape)
    first = ((np.array([row, column]) + 0.5) * cell - step).astype(int)
    top, left = np.clip(first, 0, np.maximum(np.array(grey.shape) - 2 * step, 0))
    return np.ascontiguousarray(grey[top : top + 2 * step, left : left + 2 * step])


def _sharpness(grey: np.ndarray, angle: float) -> float:
    rows = _turned(grey, angle, cv2.INTER_LINEAR)
    blocks = _bands(rows)
    return float((np.diff(blocks, axis=1) ** 2).sum())


def _turned(grey: np.ndarray, angle: float, way: int = cv2.INTER_CUBIC) -> np.ndarray:
    """Return the picture turned so that the lines stand upright; outside it the edge repeats."""
    high, wide = grey.shape
    out = (
        math.ceil(abs(wide * math.cos(angle)) + abs(high * math.sin(angle))),
        math.ceil(abs(wide * math.sin(angle)) + abs(high * math.cos(angle))),
    )
    room = (np.array(out) - [wide, high]) / 2
    turn = cv2.getRotationMatrix2D(((wide - 1) / 2, (high - 1) / 2), math.degrees(angle), 1.0)
    turn = np.asarray(turn, float) + np.column_stack([np.zeros((2, 2)), room])
    return np.asarray(cv2.warpAffine(grey, turn, out, flags=way, borderMode=cv2.BORDER_REPLICATE))


def _bands(upright: np.ndarray) -> np.ndarray:
    """Mean of every band across the lines, shape (`BANDS`, width)."""
    tall = max(1, upright.shape[0] // BANDS)
    count = upright.shape[0] // tall
    return np.asarray(upright[: count * tall].reshape(count, tall, -1).mean(axis=1))


def _shortest_period(upright: np.ndarray) -> tuple[np.ndarray, float]:
    """Return the profile of the bands that show the shortest clear period, and that period."""
    profiles = [_levelled(band) for band in _bands(upright)]
    power = np.array([float((profile**2).mean()) for profile in profiles])
    profiles = [p for p, strong in zip(profiles, power > 0.1 * power.max(), strict=True) if strong]
    found = [_period(profile) for profile in profiles]
    clear = [period for period, strength in found if strength >= CLEAR]
    if not clear:
        raise _none(f"correlation {max(s for _, s in found):.2f} of lines with their neighbours")
    shortest = min(clear)
    own = [i for i, (p, s) in enumerate(found) if s >= CLEAR and abs(p / shortest - 1) < 0.03]
    whole = [p / shortest for p in clear]
    odd = [ratio for ratio in whole if abs(ratio - round(ratio)) > 0.04 * ratio]
    if odd and len(odd) > 0.2 * len(clear):
        raise _ambiguous(f"spacings of {shortest:.1f} px and {odd[0] * shortest:.1f} px")
    return np.mean([profiles[i] for i in own], axis=0), float(np.median([found[i][0] for i in own]))


def _levelled(band: np.ndarray) -> np.ndarray:
    """Take slow changes of light out of a profile."""
    wide = max(15.0, band.size / 40)
    row = band[None].astype(np.float32)
    return np.asarray((row - cv2.GaussianBlur(row, (0, 0), wide))[0])


def _period(profile: np.ndarray) -> tuple[float, float]:
    """Return the shortest spacing at which a profile repeats, and how well it does, [-]."""
    size = profile.size
    centred = profile - profile.mean()
    power = np.abs(np.fft.rfft(centred, 2 * size)) ** 2
    raw = np.fft.irfft(power)[: size // 4]
    if raw[0] <= 1e-9:
        return math.inf, 0.0
    ratio = raw / raw[0] * size / (size - np.arange(raw.size))
    inner = np.arange(math.ceil(MIN_PERIOD_PX), raw.size - 1)
    inner = inner[inner > _first_dip(ratio)]
    peaks = inner[(ratio[inner] >= ratio[inner - 1]) & (ratio[inner] > ratio[inner + 1])]
    if not len(peaks):
        return math.inf, 0.0
    first = peaks[ratio[peaks] >= 0.7 * ratio[peaks].max()][0]
    left, top, right = ratio[first - 1 : first + 2]
    shift = 0.5 * (left - right) / (left - 2 * top + right)
    return float(first + shift), float(top)


def _first_dip(ratio: np.ndarray) -> int:
    """Where the correlation first stops falling: the width of a line lies before it."""
    rising = np.flatnonzero(np.diff(ratio) > 0)
    return int(rising[0]) if len(rising) else ratio.size


def _line_places(profile: np.ndarray, period: float) -> np.ndarray:
    """Places of the lines, [px]: centroids of what stands out."""
    soft = cv2.GaussianBlur(profile[None].astype(np.float32), (0, 0), max(0.6, period / 20))[0]
    signal = -soft if float((soft**3).mean()) <= 0 else soft  # dark lines unless light ones
    level = float(np.percentile(signal, 25))
    inner = np.arange(1, signal.size - 1)
    tops = inner[(signal[inner] >= signal[inner - 1]) & (signal[inner] > signal[inner + 1])]
    high = signal[tops] - level
    usual = float(np.median(np.sort(high)[-max(MIN_LINES, int(signal.size / period * 0.6)) :]))
    _refuse_fainter_lines(high, tops, period, usual)
    strong = tops[high > 0.4 * usual]
    reach = 0.35 * period
    room = (strong > reach) & (strong < signal.size - 1 - reach)
    return np.array([_centroid(signal, int(t), reach, level) for t in strong[room]])


def _refuse_fainter_lines(high: np.ndarray, tops: np.ndarray, period: float, usual: float) -> None:
    """Refuse when a second family of fainter lines stands half way between the others."""
    strong = tops[high > 0.4 * usual]
    faint = tops[(high > 0.18 * usual) & (high <= 0.4 * usual)]
    if not len(strong) or not len(faint):
        return
    nearest = np.abs(faint[:, None] - strong[None]).min(axis=1) / period
    between = int(((nearest > 0.35) & (nearest < 0.65)).sum())
    if between > 0.5 * len(strong):
        raise _ambiguous(f"fainter lines half way between lines {period:.1f} px apart")


def _centroid(signal: np.ndarray, top: int, reach: float, level: float) -> float:
    near = np.arange(max(0, math.ceil(top - reach)), min(signal.size, int(top + reach) + 1))
    weight = np.clip(signal[near] - level - 0.4 * (signal[top] - level), 0, None)
    return float((weight * near).sum() / max(float(weight.sum()), 1e-9))


def _number(places: np.ndarray, period: float) -> _Lines:
    """Number the lines by the period; refuse spacings that are no whole number of it."""
    if len(places) < MIN_LINES:
        raise _none(f"{len(places)} lines")
    gaps = np.diff(places) / period
    steps = np.maximum(np.round(gaps), 1)
    odd = np.abs(gaps - steps) > 0.2
    if odd.mean() > 0.1:
        spacing = np.median(np.diff(places)[odd])
        raise _ambiguous(f"spacings of {period:.1f} px and {spacing:.1f} px")
    runs = np.split(np.arange(len(places)), np.flatnonzero(odd | (steps > 3)) + 1)
    kept = max(runs, key=len)
    if len(kept) < MIN_LINES:
        raise _none(f"{len(kept)} lines in one row")
    numbers = np.concatenate([[0], np.cumsum(steps[kept[:-1]])])
    missing = 1 - len(kept) / (numbers[-1] + 1)
    if missing > 0.2:
        raise _ambiguous(f"{missing:.0%} of the lines missing at {period:.1f} px")
    return _Lines(places[kept], numbers)


def _fitted(lines: _Lines, pitch_mm: float, angle: float) -> PictureScale:
    """Fit a straight line through the places; look whether the spacing changes."""
    number = lines.numbers - lines.numbers.mean()
    spacing, start = np.polyfit(number, lines.places, 1)
    off = lines.places - (start + spacing * number)
    spread = math.sqrt(float((off**2).sum()) / (len(off) - 2))
    fit_u = spread / math.sqrt(float((number**2).sum()))
    bend = float(np.polyfit(number, lines.places, 2)[0])
    trend = 2 * abs(bend) * float(np.ptp(number)) / spacing
    if trend > MAX_TREND:
        raise GraduationsUneven(
            "the spacing of the lines changes across the picture",
            got=f"{trend:.1%}",
            expected=f"at most {MAX_TREND:.0%}",
            do="Lay the micrometer square under the lens and photograph again.",
        )
    if spread > 0.1 * spacing:
        raise _ambiguous(f"lines off their even places by {spread / spacing:.0%} of their spacing")
    parts = (
        ("lines", fit_u / spacing),
        ("slant", trend / math.sqrt(12)),
        ("pitch", PITCH_REL_U),
        ("lens", LENS_REL_U),
    )
    scale = PictureScale("micrometer", float(spacing / pitch_mm), parts)
    return firm(scale).with_facts(
        lines=len(off),
        spacing_px=float(spacing),
        residual_px=spread,
        direction_deg=math.degrees(angle),
        pitch_mm=pitch_mm,
    )


def _none(got: str) -> NoGraduations:
    return NoGraduations(
        "no even graduations in the picture",
        got=got,
        expected=f"at least {MIN_LINES} even lines, {MIN_PERIOD_PX:g} px or more apart",
        do="Photograph the stage micrometer in focus, its lines filling the picture.",
    )


def _ambiguous(got: str) -> GraduationsAmbiguous:
    return GraduationsAmbiguous(
        "two spacings could be the pitch",
        got=got,
        expected="one spacing throughout, longer lines at whole multiples of it",
        do="Photograph one ruling only, or name a line of known length by --scale-line.",
    )
