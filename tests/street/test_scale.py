"""The scale of a face from every source, through the command line."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import cv2
import numpy as np
import pytest

from lapwright.core.errors import LapwrightError
from lapwright.measure import errors
from lapwright.measure.drawing.views import Camera, draw_card, draw_graduations
from lapwright.measure.synthetic import DrawnFace, draw_demo_face
from lapwright.reference.cards import scale_cards
from lapwright.services.cards import ProfileWanted, measure_picture
from lapwright.services.profiles import Profile, profile_scale, read_profile, write_profile

from .conftest import Shell

SETTING = {"instrument": "Bench camera 2", "setting": "extension ring 20 mm"}
SCALE_REFUSED = errors.ScaleRefused.code
MADE, LAST = date(2026, 3, 1), date(2027, 3, 1)
GOOD = Profile(
    "Bench camera 2", "ring 20", 50.0, 0.3, MADE, LAST, (1400, 1000), "ab" * 32, "micrometer"
)


def _png(path: Path, pixels: np.ndarray) -> Path:
    cv2.imwrite(str(path), pixels)
    return path


@pytest.fixture(scope="module")
def face() -> DrawnFace:
    return draw_demo_face(((0.4, 0.5, "open"),), seed=5, width_px=1400)


@pytest.fixture(scope="module")
def strip(face: DrawnFace) -> np.ndarray:
    """A card at the face's own scale, to lie above it."""
    card = scale_cards()[0]
    width, height = (float(side) for side in card.size_mm)
    size = (face.pixels.shape[1], round((height + 5) * face.px_per_mm))
    return draw_card(Camera(size, face.px_per_mm), card, corner_mm=(-width / 2, -height / 2))


@pytest.fixture(scope="module")
def photo(face: DrawnFace, strip: np.ndarray, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _png(tmp_path_factory.mktemp("scale") / "face.png", np.vstack([strip, face.pixels]))


@pytest.fixture(scope="module")
def ends(face: DrawnFace, strip: np.ndarray) -> tuple[str, ...]:
    tube, cup = (f"{x:.1f},{y + len(strip):.1f}" for x, y in (face.tube_end, face.cup_face))
    return "--tube-end", tube, "--cup-face", cup


def test_a_card_gives_the_overlap_in_mm(
    face: DrawnFace, photo: Path, ends: tuple[str, ...], shell: Shell
) -> None:
    told = shell.json("face", photo, *ends, "--card", "--check-mm", "100,100")
    scale = told["scale"]
    assert isinstance(scale, dict)
    assert scale["source"] == "card"
    assert scale["px_per_mm"] == pytest.approx(face.px_per_mm, rel=2e-3)
    truth = face.plan.overlap_mm
    assert abs(told["overlap_mm"] - truth) < 2.5 * told["overlap_mm_u"]  # type: ignore[operator]
    assert set(scale["overlap_mm_parts"]) == {"print", "lens", "corners", "ends"}


def test_two_clicks_and_a_typed_scale_agree(
    face: DrawnFace, photo: Path, ends: tuple[str, ...], shell: Shell
) -> None:
    line = f"100,700,{100 + 12 * face.px_per_mm:.2f},700"
    clicked = shell.json("face", photo, *ends, "--scale-line", line, "--scale-mm", 12)
    typed = shell.json("face", photo, *ends, "--px-per-mm", face.px_per_mm)
    assert clicked["overlap_mm"] == pytest.approx(typed["overlap_mm"], rel=1e-3)
    assert clicked["scale"]["source"] == "line"  # type: ignore[index]
    assert shell.json("face", photo, *ends)["scale"] is None


def test_a_profile_made_from_a_micrometer_serves_the_face(
    face: DrawnFace, photo: Path, ends: tuple[str, ...], tmp_path: Path, shell: Shell
) -> None:
    high, wide = cv2.imread(str(photo)).shape[:2]
    camera = Camera((wide, high), face.px_per_mm, turn_deg=4)
    ruled = draw_graduations(camera, pitch_mm=0.5, divisions=60, line_mm=0.1)
    ruling, out = _png(tmp_path / "ruling.png", ruled), tmp_path / "bench.yaml"
    words = [w for key, value in SETTING.items() for w in (f"--{key}", value)]
    days = ("--made-on", MADE, "--valid-until", LAST)
    made = shell.json(
        "card", "measure", ruling, "--pitch-mm", 0.5, "--profile-out", out, *words, *days
    )
    assert made["profile"] == str(out)
    assert read_profile(out).px_per_mm == pytest.approx(face.px_per_mm, rel=2e-3)
    told = shell.json("face", photo, *ends, "--profile", out, "--as-of", "2026-06-01")
    direct = shell.json("face", photo, *ends, "--micrometer", ruling, "--pitch-mm", 0.5)
    assert told["overlap_mm"] == pytest.approx(direct["overlap_mm"], rel=1e-5)


def test_a_picture_that_states_another_scale_raises_a_warning(
    face: DrawnFace, photo: Path, ends: tuple[str, ...], tmp_path: Path, shell: Shell
) -> None:
    from PIL import Image

    tagged = tmp_path / "tagged.png"
    with Image.open(photo) as picture:
        picture.save(tagged, dpi=(2000, 2000))
    args = ("face", tagged, *ends, "--px-per-mm", face.px_per_mm)
    assert any("states 78.74 px/mm" in w for w in shell.json(*args)["warnings"])  # type: ignore


@pytest.mark.parametrize(
    "options",
    [
        ("--card", "--px-per-mm", "40"),
        ("--overlap-mm", "20", "--card"),
        ("--scale-line", "1,1,500,1"),
        ("--pitch-mm", "0.1"),
        ("--profile", "a.yaml"),
        ("--px-per-mm", "40", "--check-mm", "100"),
    ],
)
def test_more_or_less_than_one_source_is_refused(
    photo: Path, ends: tuple[str, ...], shell: Shell, options: tuple[str, ...]
) -> None:
    result = shell.run("face", photo, *ends, *options, "--json")
    assert result.exit_code == 1
    assert json.loads(result.stdout)["code"] == "MEAS-050"


@pytest.mark.parametrize(
    ("options", "code"),
    [
        (("--scale-line", "5000,5000,9000,9000", "--scale-mm", "20"), "MEAS-058"),
        (("--scale-line", "100,100,-90,100", "--scale-mm", "20"), "MEAS-058"),
        (("--px-per-mm", "1e-9"), SCALE_REFUSED),
        (("--px-per-mm", "1e9"), SCALE_REFUSED),
        (("--scale-line", "100,100,600,100", "--scale-mm", "1e6"), SCALE_REFUSED),
    ],
)
def test_a_scale_that_no_joint_can_have_is_refused(
    photo: Path, ends: tuple[str, ...], shell: Shell, options: tuple[str, ...], code: str
) -> None:
    result = shell.run("face", photo, *ends, *options, "--json")
    assert result.exit_code == 1
    assert json.loads(result.stdout)["code"] == code


@pytest.mark.parametrize("day", ["2026-02-28", "2027-03-02"])
def test_a_profile_holds_between_its_days_only(day: str) -> None:
    with pytest.raises(errors.ProfileOutOfDate, match="MEAS-064"):
        profile_scale(GOOD, (1400, 1000), as_of=date.fromisoformat(day))
    assert profile_scale(GOOD, (1000, 1400), as_of=MADE).px_per_mm == 50.0


def test_a_profile_of_another_picture_size_is_refused() -> None:
    with pytest.raises(errors.ProfileOtherPicture, match="MEAS-065"):
        profile_scale(GOOD, (700, 500), as_of=MADE)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('u: "0.30000"', 'u: "-0.3"'),
        ('u: "0.30000"', 'u: "60"'),
        ('px_per_mm: "50.00000"', 'px_per_mm: "1e9"'),
        ('made_on: "2026-03-01"', 'made_on: "2028-03-01"'),
        ('made_on: "2026-03-01"', 'made_on: "March"'),
        ('instrument: "Bench camera 2"', 'instrument: ""'),
        ('picture_width: "1400"', 'picture_width: "0"'),
        ('source: "micrometer"', 'source: "guess"'),
        ('source: "micrometer"', 'note: "micrometer"'),
        ('setting: "ring 20"', "setting: [a, b]"),
        ("abababab", "zzzzabab"),
        ("profile, version 1", "profile, version 2"),
    ],
)
def test_an_impossible_entry_of_a_profile_is_refused(tmp_path: Path, old: str, new: str) -> None:
    path = tmp_path / "profile.yaml"
    write_profile(path, GOOD)
    assert read_profile(path) == GOOD
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(errors.ProfileRefused, match="MEAS-063"):
        read_profile(path)


def test_a_profile_keeps_text_that_yaml_would_twist(tmp_path: Path) -> None:
    odd = replace(GOOD, instrument='No: "yes" # 007', setting="ü é 10× | > -")
    write_profile(tmp_path / "odd.yaml", odd)
    assert read_profile(tmp_path / "odd.yaml") == odd


@pytest.mark.parametrize("tilt_deg", [10, 20])
@pytest.mark.parametrize("check_mm", [(100.0,), None])
def test_a_tilted_card_makes_no_profile(
    tmp_path: Path, tilt_deg: float, check_mm: tuple[float, ...] | None
) -> None:
    card = scale_cards()[1]
    camera = Camera((1400, 1000), 28.0, tilt_deg=tilt_deg, focal_px=3000)
    picture = _png(tmp_path / "card.png", draw_card(camera, card, corner_mm=(-20, -10)))
    measure_picture(picture, check_mm=check_mm)
    wanted = ProfileWanted(tmp_path / "p.yaml", "a", "b", MADE, LAST)
    with pytest.raises(LapwrightError, match="too much for a profile"):
        measure_picture(picture, check_mm=check_mm, wanted=wanted)
    assert not (tmp_path / "p.yaml").exists()


def test_the_cards_are_written_as_a_pdf_or_not_at_all(tmp_path: Path, shell: Shell) -> None:
    result = shell.run("card", "--paper", "a4", "--out", tmp_path / "card.pdf")
    assert result.exit_code == 0
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF-")
    assert shell.run("card", "--out", tmp_path / "card.doc").exit_code != 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["card.pdf"]
