"""Plates of drawn faces for the pages: the picture, what was read, and beneath it what is true.

A plate is turned so that the tube end lies left and the mouth right. States differ by pattern
and letter first, by colour second: brazed is plain, unbrazed hatched (U), unsure dotted (?).
The scripts `gallery.py` and `limits.py` write the pages' figures from the records made here.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from lapwright.core.errors import LapwrightError
from lapwright.measure.face import read_face
from lapwright.measure.image import photo_from_pixels
from lapwright.measure.overlay import COLOURS
from lapwright.measure.pen import INK, PAPER, beside, dashed, piece, stroke, words
from lapwright.measure.settings import DEFAULT
from lapwright.measure.strip import arc_length
from lapwright.measure.synthetic import DrawnFace
from lapwright.measure.values import FaceMeasurement

Point = tuple[float, float]
LIMIT = 0.2
WIDTH, LEFT, RIGHT = 900, 86, 766  # of a plate; between LEFT and RIGHT lies the overlap, [px]
ACROSS = 0.13  # of the overlap, shown on either side of the line
BAR, SPACE = 34, 8
RED, AMBER, PLAIN = (45, 60, 200), (20, 135, 215), (222, 214, 178)
KINDS = {
    "open": "open",
    "residue": "residue",
    "partial": "partial",
    "like": "hidden",
    "unwetted": "not wetted",
}


@dataclass(frozen=True)
class Record:
    """One drawn face as it is and as it was read; shares to five digits, for the pages."""

    picture: str
    label: str
    truth: float
    voids: list[list[Any]]
    outcome: str
    code: str
    answer: float | None
    interval95: list[float] | None
    unsure: float | None
    needs_reader: str
    segments: list[list[Any]]
    method: str
    sha256: str

    @property
    def error(self) -> float | None:
        """Answer minus truth, [-]; None where refused."""
        return None if self.answer is None else self.answer - self.truth

    @property
    def misses(self) -> str:
        """Say what is plainly wrong: ``met``, ``interval`` or nothing."""
        if self.interval95 is None:
            return ""
        low, high = self.interval95
        if self.truth > LIMIT and high <= LIMIT:
            return "met"
        return "" if low <= self.truth <= high else "interval"


def read(
    face: DrawnFace, ends: Sequence[Point], *, label: str
) -> tuple[Record, FaceMeasurement | None]:
    """Read a drawn face; a refusal is an answer."""
    cv2.setNumThreads(1)
    blank = Record(
        picture="",
        label=label,
        truth=round(face.truth_share, 5),
        voids=[[round(a, 5), round(b, 5), kind] for a, b, kind in face.segments],
        outcome="refused",
        code="",
        answer=None,
        interval95=None,
        unsure=None,
        needs_reader="",
        segments=[],
        method=DEFAULT.method(),
        sha256="",
    )
    try:
        found = read_face(photo_from_pixels(face.pixels), *ends)
    except LapwrightError as refusal:
        return replace(blank, code=refusal.code), None
    told = replace(
        blank,
        outcome="measured",
        answer=round(found.unbrazed_share, 5),
        interval95=[round(v, 5) for v in found.interval95],
        unsure=round(found.unsure_share, 5),
        needs_reader=found.needs_reader,
        segments=[[round(s.start, 5), round(s.end, 5), s.state] for s in found.segments],
        method=found.method,
    )
    return told, found


# ---------------------------------------------------------------- the picture
def plate(face: DrawnFace, record: Record, reading: FaceMeasurement | None) -> np.ndarray:
    """Return the plate of a face: uint8, shape (height, 900, 3), BGR."""
    top, turn = _turned(face)
    if reading is not None:
        _bands(top, cv2.transform(np.array([reading.line]), turn)[0], record)
    _end_marks(top)
    seen = (
        [(a, b, state, {"unbrazed": "U", "unsure": "?"}.get(state, "")) for a, b, state in spans]
        if (spans := record.segments)
        else None
    )
    true = _filled([(a, b, "unbrazed", KINDS[kind]) for a, b, kind in record.voids])
    share = "" if record.answer is None else f"{100 * record.answer:.1f} %"
    parts = [
        top,
        _bar("read", seen, share, box=_reach(reading, turn), said=f"refused  {record.code}"),
        _bar("true", true, f"{100 * record.truth:.1f} %", box=(LEFT, RIGHT)),
    ]
    return np.vstack([*parts, np.full((4, WIDTH, 3), PAPER, np.uint8)])


def _reach(reading: FaceMeasurement | None, turn: np.ndarray) -> tuple[int, int]:
    """Return where on the plate the ends lie that were read, [px]."""
    if reading is None:
        return LEFT, RIGHT
    ends = cv2.transform(np.array([[reading.tube_end_px, reading.cup_face_px]]), turn)[0, :, 0]
    left, right = np.clip(np.round(ends), 0, WIDTH).astype(int)
    return int(left), int(right)


def _turned(face: DrawnFace) -> tuple[np.ndarray, np.ndarray]:
    """Return the picture with its joint level, tube end left, and the map to it, 2 x 3."""
    start, end = np.array(face.tube_end), np.array(face.cup_face)
    along = end - start
    scale = (RIGHT - LEFT) / float(np.hypot(*along))
    c, s = along / np.hypot(*along) * scale
    half = ACROSS * (RIGHT - LEFT)
    rows = np.array([[c, s], [-s, c]])
    turn = np.column_stack([rows, np.array([LEFT, half]) - rows @ start])
    source = face.pixels
    if scale < 0.9:
        source = cv2.GaussianBlur(source, (0, 0), 0.45 * np.sqrt(1 / scale**2 - 1))
    flat = cv2.warpAffine(
        source, turn, (WIDTH, round(2 * half)), flags=cv2.INTER_CUBIC, borderValue=PAPER
    )
    return np.ascontiguousarray(flat), turn


def _bands(top: np.ndarray, line: np.ndarray, record: Record) -> None:
    """Draw the overlay's strokes beside the traced line."""
    total = float(arc_length(line)[-1])
    for start, end, state in record.segments:
        part = piece(line, start * total, end * total)
        for side in (-24, 24):
            if state == "brazed":
                stroke(top, beside(part, side), COLOURS[state], width=1, halo=1)
            else:
                pattern = (13, 9) if state == "unbrazed" else (1, 11)
                dashed(top, beside(part, side), COLOURS[state], width=4, pattern=pattern)


def _end_marks(top: np.ndarray) -> None:
    """Mark the true ends at the upper and the lower edge."""
    for x in (LEFT, RIGHT):
        for a, b in ((0, 16), (top.shape[0] - 16, top.shape[0])):
            stroke(top, np.array([[x, a], [x, b]], float), PAPER, width=3)


def _filled(voids: Sequence[tuple[float, float, str, str]]) -> list[tuple[float, float, str, str]]:
    """Return the voids with the sound stretches between them."""
    out, at = [], 0.0
    for void in voids:
        if void[0] > at:
            out.append((at, void[0], "brazed", ""))
        out.append(void)
        at = void[1]
    return [*out, (at, 1.0, "brazed", "")] if at < 1 else out


def _bar(
    name: str,
    spans: Sequence[tuple[float, float, str, str]] | None,
    share: str,
    *,
    box: tuple[int, int],
    said: str = "",
) -> np.ndarray:
    row = np.full((BAR + SPACE, WIDTH, 3), PAPER, np.uint8)
    words(row, name, (LEFT / 2 - 2, SPACE + BAR / 2), size=25)
    words(row, share, ((RIGHT + WIDTH) / 2, SPACE + BAR / 2), size=25)
    bar = row[SPACE:, box[0] : box[1]]
    wide = bar.shape[1]
    for start, end, state, said_inside in spans or ():
        letter = said_inside
        a, b = (round(v * wide) for v in (start, end))
        _pattern(bar[:, a : max(b, a + 2)], state)
        if len(letter) > 1 and b - a < 12 * len(letter) + 8:
            letter = letter[0].upper()
        if letter and b - a > 19:
            size = 17 if len(letter) > 1 else 19
            words(bar, letter, ((a + b) / 2, BAR / 2), size=size, plate=2)
    if spans is None:
        words(bar, said, (wide / 2, BAR / 2), size=24)
    cv2.rectangle(bar, (0, 0), (wide - 1, BAR - 1), INK, 1)
    return row


def _pattern(box: np.ndarray, state: str) -> None:
    """Fill a stretch: plain, hatched or dotted."""
    if state == "brazed":
        box[:] = PLAIN
        return
    box[:] = PAPER
    high, wide = box.shape[:2]
    tile = np.full((high, wide, 3), PAPER, np.uint8)
    if state == "unbrazed":
        for x in range(-high, wide, 9):
            cv2.line(tile, (x, high), (x + high, 0), RED, 3, cv2.LINE_AA)
    else:
        for y in range(6, high, 11):
            for x in range(5, wide, 11):
                cv2.circle(tile, (x, y), 2, AMBER, -1, cv2.LINE_AA)
    box[:] = tile
    box[:, :1] = box[:, -1:] = INK


def write_jpeg(path: Path, picture: np.ndarray) -> str:
    """Write a plate and return the SHA-256 of the file."""
    done, coded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 80])
    if not done:
        raise RuntimeError("the picture could not be coded as JPEG")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(coded.tobytes())
    return hashlib.sha256(coded.tobytes()).hexdigest()


# ---------------------------------------------------------------- the words
def outcome_words(record: Record) -> str:
    """Return how a reading came out, in a few words."""
    if record.outcome == "refused":
        return "refused"
    wrong = {
        "met": "under the limit by its interval, truly over it",
        "interval": "the interval misses the truth",
    }
    return wrong.get(record.misses, "the interval holds the truth")


def figures(record: Record) -> str:
    """Return truth, answer and method as one Markdown paragraph."""
    truth = f"Truth {100 * record.truth:.1f} %."
    method = f"`{record.method}`"
    if record.outcome == "refused":
        page = f"[{record.code}](../reference/errors/meas.md#{record.code.lower()})"
        return f"{truth} Refused: {page}. {method}"
    assert record.answer is not None
    assert record.interval95 is not None
    assert record.error is not None
    low, high = (100 * v for v in record.interval95)
    asks = f" Asks for a reader ({record.needs_reader})." if record.needs_reader else ""
    return (
        f"{truth} Answer {100 * record.answer:.1f} %, 95 %: {low:.1f} to {high:.1f} %; "
        f"off by {round(100 * record.error, 1) + 0.0:+.1f} points.{asks} {method}"
    )


def dump(path: Path, records: Sequence[Record]) -> None:
    """Write records as JSON, one a line."""
    lines = ",\n".join(json.dumps(asdict(r), ensure_ascii=False) for r in records)
    path.write_text(f"[\n{lines}\n]\n", encoding="utf-8")


def load(path: Path) -> list[Record]:
    """Read records back."""
    return [Record(**entry) for entry in json.loads(path.read_text(encoding="utf-8"))]
