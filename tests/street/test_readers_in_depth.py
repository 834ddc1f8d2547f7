"""The readers command: bias by level, cumulative sums, and how well a limit is known."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lapwright.measure.errors import ChartRefused, NoLineRefused
from lapwright.services.readersreport import study_files
from lapwright.services.readerstudy import Asked, open_readings, study_readers
from lapwright.services.readingsfile import read_readings

from .conftest import Shell
from .studying import COLUMNS, sloped, written


def test_a_bias_that_grows_past_the_cap_at_the_limit_is_not_accepted(
    tmp_path: Path, shell: Shell
) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(written(sloped(32)))
    options = ["--max-bias", "1 %", "--max-half-width", "2 %"]
    check: dict[str, Any] = shell.json("readers", path, *options)["method_check"]  # type: ignore[assignment]
    assert (check["result"], check["trend"]["slope"]["seen"]) == ("biased-at-the-limit", "yes")
    assert abs(check["bias"]) <= 0.01 < check["bias_at_limit"]
    assert check["half_width"] <= 0.02
    text = shell.run("readers", path, *options).stdout
    assert "□ The bias changes with the share" in text
    assert "One pair of limits does not hold for every share" in text
    wider = ["--max-bias", "2 %", "--max-half-width", "2 %"]
    again: dict[str, Any] = shell.json("readers", path, *wider)["method_check"]  # type: ignore[assignment]
    assert again["result"] == "within"


def test_the_bias_is_also_read_at_a_stated_limit_that_lies_farther_out(
    tmp_path: Path, shell: Shell
) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(written(sloped(32)))
    checks: list[dict[str, Any]] = [
        shell.json("readers", path, "--limit", limit)["method_check"]  # type: ignore[misc]
        for limit in ("0.05", "0.20", "0.30")
    ]
    near, usual, far = (c["bias_at_limit"] for c in checks)
    assert near == usual
    assert far - usual == pytest.approx(0.10 * checks[0]["trend"]["slope"]["slope"])


def test_limits_by_level_stand_only_where_a_slope_is_seen(readings: Path, tmp_path: Path) -> None:
    even = study_files(study_readers(open_readings(readings), Asked()))
    rows = read_readings(written(sloped(32)), "r.csv")
    steep = study_files(study_readers(rows, Asked()))
    assert b"<polyline" not in even["difference-program-loupe.svg"]
    assert b"as functions of the share" in steep["difference-program-loupe.svg"]
    assert steep["difference-program-loupe.svg"].count(b"<polyline") == 3
    assert b"functions of the share" in steep["report.txt"]
    trend = json.loads(steep["results.json"])["method_check"]["trend"]
    low, high = (level["bias"] for level in trend["levels"])
    assert low < high


def test_faces_of_one_share_have_no_line_and_the_rest_is_given() -> None:
    rows = [
        {"face": f"F{n}", "reader": who, "reading": "1", "share": f"{0.1 + d:.4f}"}
        for n in range(6)
        for who, d in (("a", 0.001 * (-1) ** n), ("b", -0.001 * (-1) ** n))
    ]
    study = study_readers(read_readings(written(rows, COLUMNS[:4]), "r.csv"), Asked())
    (pair,) = study.pairs
    assert pair.agreement.faces == 6  # type: ignore[union-attr]
    assert isinstance(pair.trend, NoLineRefused)
    document = json.loads(study_files(study)["results.json"])
    assert document["agreement"][0]["trend"]["refused"]["code"] == "MEAS-090"


def test_a_reader_who_goes_off_is_signalled_with_the_day(tmp_path: Path, shell: Shell) -> None:
    rng = np.random.default_rng(12)
    rows = [
        {"face": f"F{n}", "reader": who, "reading": "1", "date": f"2026-01-{n + 1:02}"}
        | {"share": f"{0.2 + rng.normal(0, 0.002) + (0.01 if who == 'a' and n >= 15 else 0):.4f}"}
        for n in range(30)
        for who in "abc"
    ]
    path = tmp_path / "r.csv"
    path.write_bytes(written(rows, COLUMNS[:5]))
    out = tmp_path / "report"
    assert shell.run("readers", path, "--out", out).exit_code == 0
    document = json.loads((out / "results.json").read_text("utf-8"))
    (chart,) = [c for c in document["sums"] if c["reader"] == "a"]
    assert [s["side"] for s in chart["signals"]] == ["high"]
    assert "2026-01-14" <= chart["signals"][0]["since"] <= "2026-01-17"
    drawn = (out / "sums-01-a.svg").read_text("utf-8")
    assert f"signal {chart['signals'][0]['on']}" in drawn
    assert "a reads higher than the others" in drawn  # the text alternative says it too
    assert "a reads higher than the others" in (out / "report.txt").read_text("utf-8")


def test_differences_that_never_vary_have_no_chart_and_the_rest_is_given() -> None:
    rows = [
        {"face": f"F{n}", "reader": who, "reading": "1", "date": f"2026-01-{n + 1:02}"}
        | {"share": f"{0.1 + 0.01 * n + d:.3f}"}
        for n in range(12)
        for who, d in (("a", 0.0), ("b", 0.005))
    ]
    study = study_readers(read_readings(written(rows, COLUMNS[:5]), "r.csv"), Asked())
    assert isinstance(dict(study.charts)["a"], ChartRefused)
    assert study.pairs[0].agreement.faces == 12  # type: ignore[union-attr]


def test_copied_readings_are_named_and_no_limit_is_recommended(
    tmp_path: Path, shell: Shell
) -> None:
    rows = [
        {"face": f"F{n}", "reader": who, "reading": str(k), "share": f"{0.1 + 0.01 * n:.2f}"}
        for n in range(12)
        for who in "ab"
        for k in (1, 2)
    ]
    path = tmp_path / "r.csv"
    path.write_bytes(written(rows, COLUMNS[:4]))
    text = shell.run("readers", path).stdout
    assert "look copied" in text
    assert "Third-reading limit" not in text
    assert "s_reproducibility" not in text
    gauge: dict[str, Any] = shell.json("readers", path)["gauge"]  # type: ignore[assignment]
    assert (gauge["looks_copied"], gauge["third_reading_limit"]) == ("yes", None)


def test_the_third_reading_limit_carries_its_interval(readings: Path, shell: Shell) -> None:
    gauge: dict[str, Any] = shell.json("readers", readings)["gauge"]  # type: ignore[assignment]
    low, high = gauge["third_reading_limit_interval95"]
    assert [low, high] == pytest.approx([2.8 * v for v in gauge["s_R_interval95"]])
    assert gauge["third_reading_limit_known"] in {"yes", "no"}
    assert {"faces", "readers", "interval95"} == gauge["third_reading_limit_plans"][0].keys()
    text = shell.run("readers", readings).stdout
    assert "effective degrees of freedom" in text
    assert "What another study should give" in text
