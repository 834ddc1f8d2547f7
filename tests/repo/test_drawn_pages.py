"""The drawn examples of the pages are of this method, agree with their pages, and hide nothing."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import pytest

from lapwright.measure.settings import DEFAULT
from repo.scripts import script
from repo.tree import ROOT, told

STALE = "Run make gallery:"
ENTRY = re.compile(r"^## (\d+)\. (\w+) (\d+): ", re.MULTILINE)
TRUTH = re.compile(r"Truth ([\d.]+) %\.")
ANSWER = re.compile(r"Answer ([\d.]+) %, 95 %: ([\d.]+) to ([\d.]+) %")
METHOD = re.compile(r"`(face-trace/[^`]+)`")
PHOTOGRAPH = ROOT / "docs" / "how-to" / "photograph-a-face.md"


@pytest.fixture(scope="module")
def gallery() -> ModuleType:
    return script("gallery")


@pytest.fixture(scope="module")
def limits(gallery: ModuleType) -> ModuleType:
    return script("limits")


def worth(text: str) -> tuple[int, float]:
    """Return how bad an entry's own words are: group, and points it is off."""
    truth = float(TRUTH.findall(text)[0])
    found = ANSWER.search(text)
    if found is None:
        assert "Refused: [MEAS-" in text
        return 2, 0.0
    answer, _, high = (float(v) for v in found.groups())
    off = abs(answer - truth)
    if truth > 20 and high <= 20:
        return 0, off
    return (1 if "the interval misses the truth" in text else 3), off


def out_of_order(entries: Sequence[str]) -> list[str]:
    """Return the entries that are worse than the one before; figures are rounded to 0.1."""
    found = []
    for before, after in pairwise(entries):
        (group, off), (next_group, next_off) = worth(before), worth(after)
        if next_group < group or (next_group == group and next_off > off + 0.15):
            found.append(after.splitlines()[0])
    return found


def entries_of(page: str) -> list[str]:
    starts = [m.start() for m in ENTRY.finditer(page)]
    return [page[a:b] for a, b in zip(starts, [*starts[1:], len(page)], strict=True)]


def strangers(folder: Path, records: Sequence[object]) -> list[str]:
    """Return pictures that are missing, changed or named by no record."""
    named = {r.picture: r.sha256 for r in records}  # type: ignore[attr-defined]
    there = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.glob("*.jpg")}
    return sorted(
        name for name in named.keys() | there.keys() if named.get(name) != there.get(name)
    )


# ---------------------------------------------------------------- the gallery
def test_the_gallery_shows_thirty_faces_worst_first(gallery: ModuleType) -> None:
    page = gallery.PAGE.read_text(encoding="utf-8")
    entries = entries_of(page)
    assert [int(n) for n, _, _ in ENTRY.findall(page)] == list(range(1, 31))
    assert {(style, int(seed)) for _, style, seed in ENTRY.findall(page)} == {
        (style, seed) for style in ("field", "plate") for seed in range(7500, 7515)
    }
    offenders = out_of_order(entries)
    assert not offenders, told(offenders, f"Worse than the one before. {STALE}")
    for number, entry in enumerate(entries, 1):
        assert f"](../images/gallery/{number:02d}.jpg)" in entry


def test_the_order_check_finds_a_better_face_before_a_worse_one(gallery: ModuleType) -> None:
    entries = entries_of(gallery.PAGE.read_text(encoding="utf-8"))
    assert out_of_order(entries[::-1])


def test_the_gallery_claims_nothing_before_anything_else(gallery: ModuleType) -> None:
    paragraphs = gallery.PAGE.read_text(encoding="utf-8").split("\n\n")
    assert "No accuracy on real coupons is claimed, and these are drawings." in paragraphs[2]


def test_the_gallery_is_of_the_installed_method(gallery: ModuleType) -> None:
    page = gallery.PAGE.read_text(encoding="utf-8")
    assert {r.method for r in gallery.written()} == {DEFAULT.method()}, STALE
    assert METHOD.findall(page) == [DEFAULT.method()] * 31, STALE


def test_the_gallery_page_says_what_its_records_say(gallery: ModuleType) -> None:
    records = gallery.written()
    assert gallery.page(records) == gallery.PAGE.read_text(encoding="utf-8"), STALE
    offenders = strangers(gallery.PICTURES, records)
    assert not offenders, told(offenders, STALE)
    assert sum(p.stat().st_size for p in gallery.PICTURES.iterdir()) < 1_500_000


def test_a_face_of_the_gallery_drawn_and_read_again_answers_the_same(gallery: ModuleType) -> None:
    before = next(r for r in gallery.written() if r.outcome == "measured")  # the worst answer
    style, seed = before.label.split()
    _, now, _ = gallery.draw_and_read(int(seed), style)
    assert now.outcome == "measured", STALE
    assert now.answer == pytest.approx(before.answer, abs=0.001), STALE
    assert now.truth == before.truth


def test_a_changed_record_or_picture_is_noticed(gallery: ModuleType, tmp_path: Path) -> None:
    records = gallery.written()
    moved = [gallery.replace(records[0], truth=0.5), *records[1:]]
    assert gallery.page(moved) != gallery.page(records)
    (tmp_path / "01.jpg").write_bytes(b"another")
    (tmp_path / "99.jpg").write_bytes(b"one more")
    assert strangers(tmp_path, records[:2]) == ["01.jpg", "02.jpg", "99.jpg"]


# ---------------------------------------------------------------- what cannot be seen
def test_the_limits_are_of_the_installed_method_and_say_what_was_read(limits: ModuleType) -> None:
    records = limits.written()
    text = limits.PAGE.read_text(encoding="utf-8")
    assert {r.label for r in records} == set(re.findall(r"<!-- drawn: (\S+) -->", text))
    assert {r.method for r in records} == {DEFAULT.method()}, STALE
    assert limits.filled(text, records) == text, STALE
    offenders = strangers(limits.PICTURES, records)
    assert not offenders, told(offenders, STALE)
    assert "No accuracy on real coupons is claimed" in text.split("\n\n")[1]


def test_a_limit_drawn_and_read_again_answers_the_same(limits: ModuleType) -> None:
    before = next(r for r in limits.written() if r.label == "like-filler")
    face = limits.filler_like()
    now, _ = limits.read(face, (face.tube_end, face.cup_face), label="like-filler")
    assert (now.outcome, now.code) == (before.outcome, before.code), STALE
    assert now.answer == pytest.approx(before.answer, abs=0.001), STALE


def test_the_lap_map_prints_the_area_of_its_two_ellipses(limits: ModuleType) -> None:
    lap = limits.sys.modules["lapmap"]
    area = sum(math.pi * tall / 12 * wide for _, _, tall, wide in lap.VOIDS)
    assert lap.void_mask().mean() == pytest.approx(area, abs=0.002)
    assert [lap.plane_share(clock) for clock in lap.PLANES] == [0.0, 0.0]
    assert lap.plane_share(0.5) == pytest.approx(0.72, abs=0.005)  # twice its half extent


# ---------------------------------------------------------------- photograph a face
def test_the_drawings_of_the_photograph_are_what_the_script_draws() -> None:
    drawings = script("photo_drawings")
    for name, draw in drawings.DRAWINGS.items():
        assert (drawings.IMAGES / name).read_text(encoding="utf-8") == draw(), STALE


def test_the_pixels_for_each_clearance_are_reckoned_right() -> None:
    text = PHOTOGRAPH.read_text(encoding="utf-8")
    rows = re.findall(
        r"^\| ([\d.]+) \| 4 / ([\d.]+) = (\d+) \| ([\d.]+) \| 10 × (\d+) / 0\.7 = (\d+) "
        r"\| 20 × (\d+) / 0\.7 = (\d+) \|$",
        text,
        re.MULTILINE,
    )
    assert [row[0] for row in rows] == [
        "0.02", "0.03", "0.05", "0.08", "0.10", "0.15", "0.20", "0.25",
    ]  # fmt: skip
    for row in rows:
        clearance = float(row[0])
        scale = 4 / clearance
        assert float(row[1]) == clearance
        assert [int(row[2]), int(row[4]), int(row[6])] == [round(scale)] * 3
        assert float(row[3]) == pytest.approx(1000 / scale)
        assert [int(row[5]), int(row[7])] == [round(10 * scale / 0.7), round(20 * scale / 0.7)]
    assert f"refuses below {DEFAULT.min_gap_px:g} " in text


def test_every_refusal_of_a_photograph_has_its_advice() -> None:
    text = PHOTOGRAPH.read_text(encoding="utf-8")
    errors = (ROOT / "docs/reference/errors/meas.md").read_text(encoding="utf-8")
    named = set(re.findall(r"\[(MEAS-\d+)\]\(\.\./reference/errors/meas\.md#", text))
    assert named <= set(re.findall(r"^## (MEAS-\d+)$", errors, re.MULTILINE))
    about_photographs = {
        f"MEAS-{n:03d}" for n in (*range(1, 7), *range(8, 17), *range(19, 24), 70, 71)
    }
    assert about_photographs - named == set()
