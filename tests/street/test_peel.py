"""``lapwright peel``: propose, correct, read; carry the figures into a case folder."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from lapwright.cli.main import cli
from lapwright.core.errors import LapwrightError
from lapwright.core.quantities import Quantity
from lapwright.measure.peel.direction import LapDirection
from lapwright.measure.peel.drawing import draw_peel
from lapwright.measure.peel.mask import mask_png
from lapwright.measure.peel.reading import read_peel
from lapwright.measure.peel.values import Bounds
from lapwright.services.peeldocument import case_figures, refused

from .building import AS_OF, case_folder, edit
from .conftest import Shell

KEYS = {
    "outcome",
    "code",
    "message",
    "area_share",
    "line_share",
    "through_path",
    "corner_path",
    "paths",
    "case_figures",
    "needs_reader",
    "method",
    "image_sha256",
    "mask_sha256",
}
OUTLINE = "90,70,809,70,809,629,90,629"
COPPER = [((0.3, 0.4), (0.12, 0.2))]


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("peel") / "peeled.png"
    assert cv2.imwrite(str(path), draw_peel(3, copper=COPPER).pixels)
    return path


def mask_of(states: np.ndarray, path: Path) -> Path:
    path.write_bytes(mask_png(states))
    return path


def test_a_mask_is_read_exactly_with_the_promised_keys(
    photo: Path, shell: Shell, tmp_path: Path
) -> None:
    truth = draw_peel(3, copper=COPPER).states
    mask = mask_of(truth, tmp_path / "mask.png")
    said = shell.json("peel", photo, "--mask", mask, "--lap-angle", 90, "--px-per-mm", 20)
    assert said.keys() >= KEYS
    assert (said["outcome"], said["needs_reader"]) == ("measured", "")
    share = Fraction(int((truth == 1).sum()), int((truth > 0).sum()))
    area: dict[str, object] = said["area_share"]  # type: ignore[assignment]
    assert Fraction(str(area["low_exact"])) == Fraction(str(area["high_exact"])) == share
    assert said["surface_mm2"] == pytest.approx((truth > 0).sum() / 400)
    assert said["image_sha256"] == hashlib.sha256(photo.read_bytes()).hexdigest()
    assert said["mask_sha256"] == hashlib.sha256(mask.read_bytes()).hexdigest()
    assert said["through_path"] == "no"
    inside = shell.json("peel", photo, "--mask", mask, "--outline", OUTLINE)
    assert inside["area_share"] == area


def test_a_proposal_is_written_corrected_and_read_again(
    photo: Path, shell: Shell, tmp_path: Path
) -> None:
    mask, overlay = tmp_path / "mask.png", tmp_path / "overlay.png"
    given = ("peel", photo, "--outline", OUTLINE)
    said = shell.json(*given, "--propose", mask, "--overlay", overlay)
    assert (said["outcome"], said["needs_reader"]) == ("proposed", "proposed-by-program")
    assert said["case_figures"] == {}
    assert said["mask_sha256"] == hashlib.sha256(mask.read_bytes()).hexdigest()
    assert overlay.read_bytes().startswith(b"\x89PNG")
    again = shell.json(*given, "--mask", mask)
    assert again["outcome"] == "proposed"
    assert again["area_share"] == said["area_share"]
    with Image.open(mask) as picture:
        grey = np.array(picture)
    grey[grey == 160] = 240
    Image.fromarray(grey).save(mask)
    read = shell.json(*given, "--mask", mask)
    assert (read["outcome"], read["needs_reader"]) == ("measured", "")
    assert set(read["case_figures"]) >= {"area", "line"}  # type: ignore[call-overload]


def test_the_reading_is_said_in_words(photo: Path, shell: Shell, tmp_path: Path) -> None:
    states = draw_peel(3).states
    states[70:630, 400:410] = 1
    states[300, 400:410] = 2
    mask = mask_of(states, tmp_path / "mask.png")
    text = shell.run("peel", photo, "--mask", mask, "--outline", OUTLINE).stdout
    assert "mouth edge to stop edge: possible (a leak path across the lap)" in text
    assert "worst line; path from edge to edge: possible." in text
    assert "Needs a reader" in text
    assert "no accuracy on real specimens is claimed" in text


def test_a_mask_of_another_convention_is_read_where_its_meaning_is_given(
    photo: Path, shell: Shell, tmp_path: Path
) -> None:
    binary = np.zeros((700, 900), np.uint8)
    binary[200:300, 300:400] = 255
    path = tmp_path / "binary.png"
    Image.fromarray(binary).save(path)
    given = ("peel", photo, "--outline", OUTLINE, "--mask", path)
    assert getattr(shell.run(*given).exception, "code", "") == "MEAS-031"
    said = shell.json(*given, "--mask-values", "discontinuity=255,sound=0")
    assert said["discontinuity_px"] == 10_000
    assert said["line_share"]["high_exact"] == "5/28"  # type: ignore[index]


@pytest.mark.parametrize(
    ("args", "code"),
    [
        ([], "MEAS-036"),
        (["--outline", "1,1,9,9"], "MEAS-034"),
        (["--outline", "1,1,9,1,20,20,9,9,5,30"], "MEAS-035"),
        (["--outline", OUTLINE, "--lap", "5,5,5,5"], "MEAS-035"),
        (["--outline", OUTLINE, "--px-per-mm", "nan"], "MEAS-017"),
        (["--outline", OUTLINE, "--mask", "missing.png"], "CASE-005"),
        (["--outline", OUTLINE, "--overlay", "overlay.jpg"], "ISSUE-001"),
    ],
)
def test_a_refusal_is_one_line_and_one_document(photo: Path, args: list[str], code: str) -> None:
    result = CliRunner().invoke(cli, ["peel", str(photo), *args, "--json"])
    document = json.loads(result.stdout)
    assert (result.exit_code, document["outcome"], document["code"]) == (1, "refused", code)
    assert document.keys() >= KEYS
    assert result.stderr.strip().endswith(f"[{code}]")


def test_the_evidence_is_never_written_over(photo: Path, shell: Shell, tmp_path: Path) -> None:
    mask = mask_of(draw_peel(3).states, tmp_path / "mask.png")
    before = (photo.read_bytes(), mask.read_bytes())
    given = ("peel", photo, "--outline", OUTLINE)
    for args in (("--mask", mask, "--overlay", mask), ("--propose", photo)):
        assert isinstance(shell.run(*given, *args).exception, LapwrightError)
    assert (photo.read_bytes(), mask.read_bytes()) == before
    assert [p.name for p in tmp_path.iterdir()] == ["mask.png"]


@pytest.mark.parametrize(
    "args",
    [
        ["--outline", "1,2,3"],
        ["--outline", "a,b"],
        ["--lap", "1,2,3,4,5,6"],
        ["--lap", "1,2,3,4", "--lap-angle", "90"],
        ["--mask-values", "sound=1"],
        ["--mask", "m.png", "--propose", "n.png"],
        ["--propose", "n.png", "--overlay", "n.png"],
    ],
)
def test_wrong_usage_exits_2(photo: Path, args: list[str]) -> None:
    assert CliRunner().invoke(cli, ["peel", str(photo), *args]).exit_code == 2


def test_case_figures_never_gain_by_rounding() -> None:
    states = np.full((400, 400), 3, np.uint8)
    states[:100, 10:20] = 1
    reading = read_peel(states, LapDirection(0, 1))
    assert case_figures(reading) == {"area": "0.6250 %", "line": "25.0000 %", "through_path": "no"}
    third = replace(reading, area=Bounds(Fraction(1, 4), Fraction(1, 4) + Fraction(1, 10**9)))
    text = case_figures(third)["area"]
    assert text == "25.0001 %"
    assert Quantity.parse(text, "share").base > Fraction(1, 4)


def test_case_figures_leave_open_what_a_corner_or_a_pixel_leaves_open() -> None:
    states = np.full((40, 40), 3, np.uint8)
    states[0, 0] = 1
    assert "through_path" not in case_figures(read_peel(states, LapDirection(0, 1)))
    states[:, 20] = 2
    assert "through_path" not in case_figures(read_peel(states, LapDirection(0, 1)))
    states[:, 20] = 1
    assert case_figures(read_peel(states, LapDirection(0, 1)))["through_path"] == "yes"


def test_the_figures_are_taken_by_a_case_folder(photo: Path, shell: Shell, tmp_path: Path) -> None:
    states = draw_peel(3).states
    states[300:600, 400:410] = 1
    mask = mask_of(states, tmp_path / "mask.png")
    said = shell.json("peel", photo, "--mask", mask, "--outline", OUTLINE)
    figures: dict[str, str] = said["case_figures"]  # type: ignore[assignment]
    folder = case_folder(tmp_path)
    seen = {"parted": "yes", "filler_at_edges": "yes"}

    def peel(document: dict) -> None:
        test = {"id": "P1", "kind": "peel", "on": "2026-03-11", "figures": figures | seen}
        document["coupons"][0]["joints"][0]["tests"] = [test]

    edit(folder, peel)
    judged = json.dumps(shell.json("judge", folder, "--as-of", AS_OF))
    assert "Specimen P1: 53.571500 % of the lap is open on the worst line" in judged
    assert "Specimen P1: no discontinuity runs from edge to edge." in judged


def test_the_refusal_document_has_the_keys_of_a_reading() -> None:
    class Odd(LapwrightError):
        code = "ODD-001"

    assert refused(Odd("x", got="1", expected="2", do="Do.")).keys() == KEYS
