"""The readers command: strict file, words, JSON, report; nothing half-written."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lapwright.core.errors import LapwrightError
from lapwright.measure.errors import (
    ChartRefused,
    MethodCheckRefused,
    NoLineRefused,
    ReadingsFileRefused,
    ReadingsRowsRefused,
    StudyLimitRefused,
    StudyTooSmall,
)
from lapwright.services.errors import CaseFileRefused, OutputRefused
from lapwright.services.readersreport import study_files
from lapwright.services.readerstudy import (
    Asked,
    Checked,
    open_readings,
    share_option,
    study_readers,
)
from lapwright.services.readingsfile import parse_share, read_readings

from .conftest import Shell

COLUMNS = ["face", "reader", "reading", "share", "date", "way", "low", "high", "method", "refused"]
METHOD = "drawn/1"


def table(
    faces: int, *, readers: tuple[str, ...] = ("teal", "brindle"), shift: float = 0.0
) -> list[dict[str, str]]:
    """Draw loupe readings by readers, twice each, and one reading by the program."""
    rng = np.random.default_rng(7)
    rows = []
    for n in range(faces):
        truth = rng.uniform(0.03, 0.35)
        face, day = f"F{n + 1}", f"2026-02-{n % 27 + 1:02}"
        rows += [
            {"face": face, "reader": who, "reading": str(k), "way": "loupe", "date": day}
            | {"share": f"{truth + rng.normal(0, 0.004):.4f}"}
            for who in readers
            for k in (1, 2)
        ]
        share = truth + shift + rng.normal(0, 0.005)
        rows.append(
            {"face": face, "reader": "program", "reading": "1", "way": "program", "date": day}
            | {"share": f"{100 * share:.2f} %", "low": f"{share - 0.02:.5f}"}
            | {"high": f"{share + 0.02:.5f}", "method": METHOD}
        )
    return rows


def sloped(faces: int) -> list[dict[str, str]]:
    """Draw faces of small shares on which the program reads 8 % of the share too much."""
    rows = table(faces)
    for r in rows:
        number = float(r["share"].rstrip(" %")) / (100 if "%" in r["share"] else 1)
        if r["way"] == "program":
            number *= 1.08
        r.update(share=f"{0.55 * number:.5f}", low="", high="")
    return rows


def written(rows: list[dict[str, str]], columns: list[str] = COLUMNS) -> bytes:
    """Return rows as the bytes of a CSV."""
    text = io.StringIO()
    out = csv.DictWriter(text, columns, restval="", extrasaction="ignore")
    out.writeheader()
    out.writerows(rows)
    return text.getvalue().encode()


@pytest.fixture
def readings(tmp_path: Path) -> Path:
    path = tmp_path / "readings.csv"
    path.write_bytes(written(table(32)))
    return path


def test_the_study_is_one_json_document(readings: Path, shell: Shell) -> None:
    document = shell.json("readers", readings, "--limit", "20 %")
    assert document["outcome"] == "studied"
    assert (document["faces"], document["readers"]) == (32, ["teal", "brindle"])
    gauge: dict[str, float] = document["gauge"]  # type: ignore[assignment]
    assert gauge["third_reading_limit"] == pytest.approx(2.8 * gauge["s_R"])
    assert gauge["s_R"] == pytest.approx(0.004, rel=0.3)
    check: dict[str, object] = document["method_check"]  # type: ignore[assignment]
    assert check["result"] == "not-stated"
    assert "No accuracy on real coupons is claimed" in str(document["claim"])


def test_the_words_begin_with_the_claim_and_never_name_a_limit_of_their_own(
    readings: Path, shell: Shell
) -> None:
    lines = shell.run("readers", readings).stdout.splitlines()
    assert lines[1].startswith("No accuracy on real coupons is claimed")
    text = "\n".join(lines)
    assert "state the limit of your adopted rule with --limit" in text
    assert "kappa" not in text
    assert "s_reproducibility" in text


def test_verdicts_follow_the_stated_limit(readings: Path) -> None:
    rows = open_readings(readings)
    agreed = []
    for limit in ("0.10", "0.20"):
        study = study_readers(rows, Asked(limit=Decimal(limit)))
        first = {r.face: r for r in reversed(rows.rows) if r.reader == "teal" and r.reading == 1}
        other = {r.face: r for r in rows.rows if r.reader == "brindle" and r.reading == 1}
        same = (
            [(first[f].share or 0) <= Decimal(limit) for f in first],
            [(other[f].share or 0) <= Decimal(limit) for f in first],
        )
        agreed.append(sum(a == b for a, b in zip(*same, strict=True)))
        assert study.pairs[0].kappa.agreed == agreed[-1]  # type: ignore[union-attr]


def test_the_report_is_written_whole(readings: Path, tmp_path: Path, shell: Shell) -> None:
    out = tmp_path / "report"
    options = ["--limit", "0.2", "--max-bias", "0.01", "--max-half-width", "2 %"]
    result = shell.run("readers", readings, *options, "--out", out)
    assert result.exit_code == 0, result.output
    assert "● Within the stated limits" in result.stdout
    assert sorted(p.name for p in out.iterdir()) == [
        "difference-01-teal-brindle.svg",
        "difference-program-loupe.svg",
        "method-check.json",
        "report.txt",
        "results.json",
        "sums-01-teal.svg",
        "sums-02-brindle.svg",
    ]
    body = json.loads((out / "method-check.json").read_text("utf-8"))
    assert (body["method"], body["faces"], body["result"]) == (METHOD, "32", "within")
    assert body["limits"] == {"max_bias": "0.01", "max_half_width": "0.02", "verdict": "0.2"}
    assert json.loads((out / "results.json").read_text("utf-8"))["outcome"] == "studied"


def test_a_folder_that_holds_something_is_never_written_over(
    readings: Path, tmp_path: Path, shell: Shell
) -> None:
    out = tmp_path / "report"
    out.mkdir()
    (out / "kept.txt").write_text("mine")
    result = shell.run("readers", readings, "--out", out)
    assert isinstance(result.exception, OutputRefused)
    assert [p.name for p in out.iterdir()] == ["kept.txt"]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["readings.csv", "report"]


@pytest.mark.parametrize(
    ("faces", "shift", "result"),
    [(30, 0.0, "within"), (29, 0.0, "too-few-faces"), (32, 0.02, "outside")],
)
def test_the_result_of_a_check(
    faces: int, shift: float, result: str, tmp_path: Path, shell: Shell
) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(written(table(faces, shift=shift)))
    options = ["--max-bias", "1 %", "--max-half-width", "2 %"]
    check: dict[str, object] = shell.json("readers", path, *options)["method_check"]  # type: ignore[assignment]
    assert (check["result"], check["faces"]) == (result, faces)


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


def test_the_third_reading_limit_carries_its_interval(readings: Path, shell: Shell) -> None:
    gauge: dict[str, Any] = shell.json("readers", readings)["gauge"]  # type: ignore[assignment]
    low, high = gauge["third_reading_limit_interval95"]
    assert [low, high] == pytest.approx([2.8 * v for v in gauge["s_R_interval95"]])
    assert gauge["third_reading_limit_known"] in {"yes", "no"}
    assert {"faces", "readers", "interval95"} == gauge["third_reading_limit_plans"][0].keys()
    text = shell.run("readers", readings).stdout
    assert "effective degrees of freedom" in text
    assert "What another study should give" in text


def test_a_refused_face_is_counted_not_dropped() -> None:
    rows = table(10)
    rows[4] |= {"share": "", "low": "", "high": "", "refused": "MEAS-016"}
    study = study_readers(read_readings(written(rows), "r.csv"), Asked())
    assert isinstance(study.check, Checked)
    assert study.check.figures.faces == 9
    assert (study.check.figures.refused.hits, study.check.figures.refused.of) == (1, 10)


def test_a_reader_id_can_stand_for_the_program() -> None:
    columns = [c for c in COLUMNS if c not in ("way", "method")]
    data = written(table(5), columns)
    study = study_readers(
        read_readings(data, "r.csv", program="program"), Asked(program="program", method="m/1")
    )
    assert isinstance(study.check, Checked)
    assert (study.check.method, study.check.figures.faces) == ("m/1", 5)
    assert [p.first for p in study.pairs] == ["teal"]


def test_a_part_that_cannot_be_given_says_why_and_the_rest_is_given(
    tmp_path: Path, shell: Shell
) -> None:
    path = tmp_path / "gap.csv"
    path.write_bytes(written(table(6)[2:]))
    document = shell.json("readers", path)
    gauge: dict[str, dict[str, str]] = document["gauge"]  # type: ignore[assignment]
    assert gauge["refused"]["code"] == "MEAS-043"
    assert "F1 by teal" in gauge["refused"]["message"]
    assert document["agreement"][0]["faces"] == 5  # type: ignore[index]


def test_one_reading_of_each_face_gives_no_repeatability(tmp_path: Path, shell: Shell) -> None:
    path = tmp_path / "single.csv"
    path.write_bytes(written([r for r in table(8) if r["reading"] == "1"]))
    gauge: dict[str, object] = shell.json("readers", path)["gauge"]  # type: ignore[assignment]
    assert (gauge["design"], gauge["s_r"]) == ("single", None)
    text = shell.run("readers", path).stdout
    assert "cannot be told apart" in text
    assert "s_r " not in text


def test_readers_whose_ids_run_together_keep_a_plot_each() -> None:
    data = written(table(4, readers=("a", "b-c", "a-b", "c")))
    study = study_readers(read_readings(data, "r.csv"), Asked())
    plots = [name for name in study_files(study) if name.startswith("difference-0")]
    assert len(plots) == 6


def test_three_readers_have_one_kappa_together() -> None:
    data = written(table(12, readers=("a", "b", "c")))
    study = study_readers(read_readings(data, "r.csv"), Asked(limit=Decimal("0.2")))
    assert len(study.pairs) == 3
    assert study.together.readers == 3  # type: ignore[union-attr]


def test_a_drift_is_measured_against_the_other_readers() -> None:
    rows = [
        {"face": f"F{n}", "reader": who, "reading": "1", "date": f"2026-01-{n + 1:02}"}
        | {"share": f"{0.1 + (0.001 * n if who == 'a' else 0):.4f}"}
        for n in range(20)
        for who in "abc"
    ]
    data = written(rows, COLUMNS[:5])
    drifts = dict(study_readers(read_readings(data, "r.csv"), Asked()).drifts)
    assert drifts["a"].slope == pytest.approx(0.030)  # type: ignore[union-attr]
    assert drifts["b"].slope == pytest.approx(-0.015)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("0.182", "0.182"),
        (".5", "0.5"),
        ("18.2%", "0.182"),
        ("18.2 %", "0.182"),
        ("100 %", "1"),
        ("1", "1"),
        ("18.2", None),
        ("101 %", None),
        ("-0.1", None),
        ("1e-1", None),
        ("0,18", None),
        ("nan", None),
        ("", None),
        ("٠.٢", None),
    ],
)
def test_shares_are_read_exactly_or_not_at_all(text: str, share: str | None) -> None:
    assert parse_share(text) == (Decimal(share) if share else None)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"share": "18.2"}, "row 3: share '18.2' is not a fraction"),
        ({"share": ""}, "row 3: share '' is not a fraction"),
        ({"face": ""}, "row 3: face '' is not"),
        ({"reader": "a b"}, "row 3: reader 'a b' is not"),
        ({"reading": "0"}, "row 3: reading '0' is not a whole number"),
        ({"reading": "1"}, "row 3: reading 1 of face F1 by teal stands in row 2 already"),
        ({"date": "2026-02-30"}, "row 3: date '2026-02-30': no such day"),
        ({"date": "1/2/2026"}, "row 3: date '1/2/2026': not a date"),
        ({"way": ""}, "row 3: way '' is not loupe or program"),
        ({"low": "0.1"}, "row 3: low '0.1' and high '' are not two shares"),
        ({"low": "0.9", "high": "0.95"}, "does not lie from low 0.9 to high 0.95"),
        ({"refused": "MEAS-016"}, "row 3: refused stands at a row that is not the program's"),
        ({"way": "program", "refused": "MEAS-016"}, "row 3: refused, and yet a share"),
        ({"way": "program", "refused": "bad", "share": ""}, "row 3: refused 'bad' is not a code"),
        ({"method": "m" * 201}, "row 3: method is longer"),
    ],
)
def test_readings_rows_refused(change: dict[str, str], said: str) -> None:
    rows = table(4)
    rows[1] |= change
    with pytest.raises(ReadingsRowsRefused) as refusal:
        read_readings(written(rows), "r.csv")
    assert any(said in fault for fault in refusal.value.faults)
    assert "[MEAS-041]" in str(refusal.value)


def test_every_bad_row_is_told_on_a_line_of_its_own(tmp_path: Path) -> None:
    rows = table(4)
    for n in (1, 5, 9):
        rows[n]["share"] = "much"
    path = tmp_path / "r.csv"
    path.write_bytes(written(rows) + b"F9,teal\n")
    done = subprocess.run(
        [sys.executable, "-m", "lapwright", "readers", str(path)],
        capture_output=True,
        text=True,
        check=False,
    )
    told = done.stderr.splitlines()
    assert (done.returncode, done.stdout) == (1, "")
    assert [line.split(":")[0].strip() for line in told[:4]] == [f"row {n}" for n in (3, 7, 11, 22)]
    assert "2 cells under 10 columns" in told[3]
    assert len(told) == 5
    assert told[4].endswith("[MEAS-041]")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "no readings"),
        (b"face,reader,reading,share\n", "no readings"),
        (b"face,reader,share\nF1,a,0.1\n", "columns are missing (reading)"),
        (b"face;reader;reading;share\nF1;a;1;0.1\n", "columns are missing"),
        (b"face,reader,reading,share,note\nF1,a,1,0.1,x\n", "columns that are not known (note)"),
        (b"face,reader,reading,share,face\nF1,a,1,0.1,F1\n", "columns that stand twice (face)"),
        (b"face,reader,reading,share\nF1,a,1,\xff\n", "not text in UTF-8"),
        (b'face,reader,reading,share\nF1,"a"b,1,0.1\n', "not comma-separated text"),
        (b"a" * 20_000_001, "a file too large"),
    ],
)
def test_readings_file_refused(data: bytes, said: str) -> None:
    with pytest.raises(ReadingsFileRefused) as refusal:
        read_readings(data, "r.csv")
    assert said in str(refusal.value)
    assert str(refusal.value).endswith("[MEAS-040]")


def test_a_program_named_twice_over_is_refused() -> None:
    with pytest.raises(ReadingsFileRefused, match="beside the column 'way'"):
        read_readings(written(table(3)), "r.csv", program="program")


@pytest.mark.parametrize("text", ["20", "0", "1", "100 %", "-1 %", "x"])
def test_study_limit_refused(text: str) -> None:
    with pytest.raises(StudyLimitRefused, match="MEAS-046"):
        share_option(text, "--limit")


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CaseFileRefused):
        open_readings(tmp_path / "none.csv")
    with pytest.raises(CaseFileRefused):
        open_readings(tmp_path)


def test_two_method_versions_are_no_method_check() -> None:
    rows = table(6)
    rows[4]["method"] = "drawn/2"
    study = study_readers(read_readings(written(rows), "r.csv"), Asked())
    assert isinstance(study.check, MethodCheckRefused)
    nameless = table(6)
    nameless[4]["method"] = ""
    assert isinstance(
        study_readers(read_readings(written(nameless), "r.csv"), Asked()).check, MethodCheckRefused
    )
    other = study_readers(read_readings(written(table(6)), "r.csv"), Asked(method="x/1"))
    assert isinstance(other.check, MethodCheckRefused)


def test_one_reading_alone_is_no_study() -> None:
    one = b"face,reader,reading,share\nF1,a,1,0.1\n"
    with pytest.raises(StudyTooSmall, match="MEAS-042"):
        study_readers(read_readings(one, "r.csv"), Asked())


def test_limits_of_the_shop_go_together(readings: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "lapwright", "readers", str(readings), "--max-bias", "1 %"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "go together" in done.stderr


def test_a_refusal_is_one_line_and_one_document(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(b"face,reader,reading,share\nF1,a,1,0.1\n")
    done = subprocess.run(
        [sys.executable, "-m", "lapwright", "readers", str(path), "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1
    assert json.loads(done.stdout)["code"] == "MEAS-042"
    assert issubclass(StudyTooSmall, LapwrightError)
