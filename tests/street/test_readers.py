"""The readers command: strict file, words, JSON, report; nothing half-written."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from lapwright.core.errors import LapwrightError
from lapwright.measure.errors import (
    MethodCheckRefused,
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
from .studying import COLUMNS, METHOD, table, written


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
        ({"image_sha256": "abc"}, "row 3: image_sha256 'abc' is not 64 digits"),
        ({"method": "m" * 201}, "row 3: method is longer"),
    ],
)
def test_readings_rows_refused(change: dict[str, str], said: str) -> None:
    rows = table(4)
    rows[1] |= change
    with pytest.raises(ReadingsRowsRefused) as refusal:
        read_readings(written(rows, [*COLUMNS, "image_sha256"]), "r.csv")
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
