"""The command line: JSON on stdout, one coded line on refusal, exit 0, 1 or 2."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from PIL import Image

from lapwright.services import schema
from unit.documents.witness import text_of

from .building import AS_OF, case_folder
from .conftest import Shell

FACE_KEYS = {
    "outcome",
    "code",
    "message",
    "overlap_px",
    "overlap_mm",
    "segments",
    "unbrazed_share",
    "u",
    "interval95",
    "unsure_share",
    "needs_reader",
    "tube_end_px",
    "cup_face_px",
    "candidates",
    "method",
    "image_sha256",
}


def _lapwright(*args: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "lapwright", *map(str, args)],
        capture_output=True,
        text=True,
        check=False,
    )


def test_judge_prints_one_json_document(passed: Path, shell: Shell) -> None:
    document = shell.json("judge", passed, "--as-of", AS_OF)
    assert document["outcome"] == "met"
    assert {p["position"] for p in document["positions"]} == {"C", "D"}  # type: ignore[attr-defined]


def test_judge_says_it_in_words(passed: Path, shell: Shell) -> None:
    text = shell.run("judge", passed, "--as-of", AS_OF).stdout
    assert "● Met" in text
    assert "This tool certifies no one" in text


def test_judge_writes_nothing(tmp_path: Path, shell: Shell) -> None:
    folder = case_folder(tmp_path)
    before = sorted((p, p.stat().st_mtime_ns) for p in tmp_path.rglob("*"))
    shell.run("judge", folder, "--as-of", AS_OF)
    assert sorted((p, p.stat().st_mtime_ns) for p in tmp_path.rglob("*")) == before


def test_range_lists_every_line_with_its_reason(passed: Path, shell: Shell) -> None:
    document = shell.json("range", passed, "--as-of", AS_OF)
    sizes: list[dict[str, str]] = document["sizes"]  # type: ignore[assignment]
    assert len({r["size"] for r in sizes}) >= 15
    assert all(r["reason"] and r["rule"] for r in sizes)


def test_face_measures_with_the_promised_keys(passed: Path, shell: Shell) -> None:
    reading = _photo_reading(passed)
    document = shell.json(
        "face",
        passed / reading["photo"],
        "--tube-end",
        ",".join(reading["tube_end"]),
        "--cup-face",
        ",".join(reading["cup_face"]),
        "--px-per-mm",
        reading["px_per_mm"],
    )
    assert document.keys() >= FACE_KEYS
    assert document["outcome"] == "measured"
    assert 0.02 < float(document["unbrazed_share"]) < 0.06  # type: ignore[arg-type]


def _photo_reading(folder: Path) -> dict[str, str]:
    import yaml

    document = yaml.load((folder / "case.yaml").read_text(), Loader=yaml.BaseLoader)
    reading: dict[str, str] = document["coupons"][0]["joints"][0]["faces"][0]["readings"][0]
    return reading


def test_face_without_ends_finds_the_one_joint(passed: Path, shell: Shell) -> None:
    photo = passed / _photo_reading(passed)["photo"]
    document = json.loads(shell.run("face", photo, "--json").stdout)
    assert (document["outcome"], document["ends_found"]) == ("measured", "both")
    given = _photo_reading(passed)
    for found, typed in (("tube_end_px", "tube_end"), ("cup_face_px", "cup_face")):
        assert document[found] == pytest.approx([float(v) for v in given[typed]], abs=8)


def test_a_photograph_of_no_joint_is_refused_in_json_too(shell: Shell, tmp_path: Path) -> None:
    plain = tmp_path / "plain.png"
    Image.new("RGB", (900, 600), (128, 128, 120)).save(plain)
    result = shell.run("face", plain, "--json")
    document = json.loads(result.stdout)
    assert (result.exit_code, document["outcome"]) == (1, "refused")
    assert document.keys() >= FACE_KEYS
    assert document["code"] == "MEAS-021"


def test_face_writes_overlay_and_grid(passed: Path, shell: Shell, tmp_path: Path) -> None:
    reading = _photo_reading(passed)
    photo = passed / reading["photo"]
    shell.run("face", photo, "--grid", tmp_path / "grid.png")
    shell.run(
        "face",
        photo,
        "--tube-end",
        ",".join(reading["tube_end"]),
        "--cup-face",
        ",".join(reading["cup_face"]),
        "--overlay",
        tmp_path / "overlay.png",
    )
    for name in ("grid.png", "overlay.png"):
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["grid.png", "overlay.png"]


@pytest.mark.parametrize(
    "args",
    [
        ["judge"],
        ["judge", "x"],
        ["judge", "x", "--as-of", "tomorrow"],
        ["nonsense"],
        ["face", "x", "--tube-end", "1,2"],
        ["face", "x", "--tube-end", "a,b", "--cup-face", "1,2"],
    ],
)
def test_wrong_usage_exits_2(args: list[str]) -> None:
    assert _lapwright(*args).returncode == 2


def test_a_refusal_is_one_coded_line_and_exits_1(tmp_path: Path) -> None:
    result = _lapwright("judge", tmp_path, "--as-of", AS_OF)
    assert result.returncode == 1
    assert result.stdout == ""
    assert result.stderr.strip().endswith("[CASE-001]")
    assert result.stderr.count("\n") == 1


def test_rules_are_listed_shown_and_sourced(shell: Shell) -> None:
    rows = shell.json("rules", "list", "--edition", "nfpa-99 2018")
    assert any(r["rule"] == "nfpa-99/2018/purge.max_oxygen" for r in rows)  # type: ignore[index]
    shown = shell.run("rules", "show", "asme-bpvc-ix/2015/overlap.max_increase").stdout
    assert "QB-408.1" in shown
    assert len(shell.json("rules", "sources")) > 5


def test_the_booklet_is_a_pdf_and_its_ticks_come_back(tmp_path: Path, shell: Shell) -> None:
    folder = case_folder(tmp_path)
    out, ticks = tmp_path / "booklet.pdf", tmp_path / "ticks.yaml"
    result = shell.run(
        "rules", "booklet", "--case", folder, "--as-of", AS_OF, "--out", out, "--ticks", ticks
    )
    assert result.exit_code == 0, result.exception
    assert out.read_bytes().startswith(b"%PDF-")
    text = (
        ticks.read_text()
        .replace("confirmed_by: ''", "confirmed_by: lead")
        .replace("confirmed_on: ''", "confirmed_on: 2026-01-12")
        .replace("copy: ''", "copy: our own")
    )
    (folder / "booklet.yaml").write_text(text)
    assert shell.json("judge", folder, "--as-of", AS_OF)["outcome"] == "met"


def test_unfinished_ticks_are_refused(tmp_path: Path, shell: Shell) -> None:
    folder = case_folder(tmp_path)
    (folder / "booklet.yaml").unlink()
    shell.run("rules", "booklet", "--edition", "nfpa-99 2018", "--ticks", folder / "booklet.yaml")
    result = shell.run("judge", folder, "--as-of", AS_OF)
    assert getattr(result.exception, "code", "") == "CASE-002"


@pytest.mark.parametrize("name", ["case", "booklet"])
def test_the_published_schemas_are_valid(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema.schema(name))


def test_the_demo_case_fits_the_published_schema(tmp_path: Path) -> None:
    import yaml

    folder = case_folder(tmp_path)
    document = yaml.load((folder / "case.yaml").read_text(), Loader=yaml.BaseLoader)
    jsonschema.validate(document, schema.schema("case"))


def test_the_booklet_of_a_case_names_employer_and_case(tmp_path: Path, shell: Shell) -> None:
    folder, out = case_folder(tmp_path), tmp_path / "booklet.pdf"
    shell.run("rules", "booklet", "--case", folder, "--as-of", AS_OF, "--out", out)
    told = " ".join(text_of(out.read_bytes()).split())
    assert "Quillon Pipeworks, case TST-01, decided as of 2026-03-20" in told
    assert "at most 25 % (0.25 as a share)" in told


def test_filed_ticks_are_never_written_over(tmp_path: Path, shell: Shell) -> None:
    ticks = case_folder(tmp_path) / "booklet.yaml"
    before = ticks.read_bytes()
    result = shell.run("rules", "booklet", "--edition", "nfpa-99 2018", "--ticks", ticks)
    assert getattr(result.exception, "code", "") == "ISSUE-001"
    assert ticks.read_bytes() == before


def test_the_range_can_be_cut_to_what_is_covered(passed: Path, shell: Shell) -> None:
    text = shell.run("range", passed, "--as-of", AS_OF, "--covered").stdout
    assert " Covered " in text
    assert "Not covered" not in text
