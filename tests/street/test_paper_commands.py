"""The commands on a real ledger: enter, check, compare, doubt, clear, note, in order."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from lapwright.cli.common import today
from lapwright.services.errors import PaperOther, PaperOwnCheck, PersonUnknown

from .conftest import Shell
from .paperwork import paper_document, procedure_document, scan, ticks, written


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """The folder of a ledger that is made on first use."""
    return tmp_path / "ledger"


def _entered(shell: Shell, folder: Path, data: Path) -> None:
    paper = written(folder / "paper.yaml", paper_document())
    done = shell.run("paper", "enter", paper, "--scan", scan(folder), "--data", data)
    assert done.exit_code == 0, (done.output, done.exception)
    assert "Regions masked on the scan: 1:20,30,100,20." in done.stdout


def test_from_the_scan_to_the_page_to_sign(shell: Shell, tmp_path: Path, data: Path) -> None:
    _entered(shell, tmp_path, data)
    held = shell.json("paper", "show", "W-17", "--as-of", "2025-05-01", "--data", data)
    assert (held["outcome"], held["why"]) == ("undetermined", "hold")
    checked = ("paper", "check", "W-17", "--by", "teal", "--outcome", "agrees", "--data", data)
    assert shell.run(*checked, "--on", "2025-04-16").exit_code == 0
    letter = scan(tmp_path, 90, "letter.png")
    confirm = ("--employer", "Quillon Pipeworks", "--evidence", letter, "--mask", "1:0,0,9,9")
    confirm += ("--on", "2025-04-29")
    refused = shell.run(*checked, *confirm)
    assert isinstance(refused.exception, PersonUnknown)
    confirm += ("--name", "Teal Farrow", "--role", "examiner")
    assert shell.run(*checked, *confirm).exit_code == 0
    listed = shell.run("paper", "list", "--as-of", "2025-05-01", "--data", data)
    assert "● W-17" in listed.stdout
    ticks(tmp_path)
    new = written(tmp_path / "new.yaml", procedure_document())
    asked = ("W-17", new, "--ledger", "--data", data, "--signed-on", "2025-05-02")
    found = shell.json("paper", "compare", *asked, "--as-of", "2025-05-10")
    acceptance = found["acceptance"]
    assert isinstance(acceptance, dict)
    assert acceptance["outcome"] == "met"
    page = tmp_path / "page.pdf"
    told = shell.run("paper", "compare", *asked, "--as-of", "2025-05-10", "--out", page)
    assert told.exit_code == 0, (told.output, told.exception)
    assert "Valid for NFPA 99 work only." in told.stdout
    assert page.read_bytes().startswith(b"%PDF-")


def test_the_person_who_typed_it_gets_one_coded_line(
    shell: Shell, tmp_path: Path, data: Path
) -> None:
    _entered(shell, tmp_path, data)
    done = shell.run(
        "paper", "check", "W-17", "--by", "hollis", "--outcome", "agrees", "--data", data
    )
    assert isinstance(done.exception, PaperOwnCheck)
    listed = shell.json("paper", "show", "W-17", "--as-of", "2025-05-01", "--data", data)
    assert listed["checks"] == []


def _held(shell: Shell, data: Path) -> dict[str, object]:
    return shell.json("paper", "show", "W-17", "--as-of", "2025-05-01", "--data", data)


def test_a_mistyped_paper_is_corrected_and_compared_anew(
    shell: Shell, tmp_path: Path, data: Path
) -> None:
    _entered(shell, tmp_path, data)
    look = ("paper", "check", "W-17", "--outcome", "agrees", "--on", "2025-04-16", "--data", data)
    assert shell.run(*look, "--by", "teal").exit_code == 0
    doc = paper_document()
    doc["variables"]["overlap"] = "0.63 in"
    why = ("--reason", "two digits swapped", "--by", "teal", "--data", data)
    path = written(tmp_path / "right.yaml", doc)
    done = shell.run("paper", "correct", "W-17", path, *why)
    assert done.exit_code == 0, (done.output, done.exception)
    assert "compared it with its scan anew" in done.stdout
    found = _held(shell, data)
    assert [c["stale"] for c in found["checks"]] == ["yes"]  # type: ignore[attr-defined]
    assert found["why"] == "hold"
    assert found["corrected"]["reason"] == "two digits swapped"  # type: ignore[index]
    assert found["typed"]["variables"]["overlap"] == "0.63 in"  # type: ignore[index]
    assert isinstance(shell.run(*look, "--by", "teal").exception, PaperOwnCheck)
    assert shell.run(*look, "--by", "odell").exit_code == 0
    stale = [c["stale"] for c in _held(shell, data)["checks"]]  # type: ignore[attr-defined]
    assert stale == ["yes", ""]


def test_the_yaml_of_another_paper_corrects_nothing(
    shell: Shell, tmp_path: Path, data: Path
) -> None:
    _entered(shell, tmp_path, data)
    path = written(tmp_path / "other.yaml", {**paper_document(), "paper": "W-18"})
    why = ("--reason", "wrong one", "--by", "teal", "--data", data)
    done = shell.run("paper", "correct", "W-17", path, *why)
    assert isinstance(done.exception, PaperOther)
    assert _held(shell, data)["corrected"] == {}


def test_show_prints_everything_as_typed(shell: Shell, tmp_path: Path, data: Path) -> None:
    _entered(shell, tmp_path, data)
    told = shell.run("paper", "show", "W-17", "--as-of", "2025-05-01", "--data", data).stdout
    for line in (
        "  number: QP-BPQ-17",
        "    section: passed",
        "    bps: QP-BPS-4",
        "    overlap: 0.36 in",
        "  remark: card no ",
        "    way: brazer",
    ):
        assert line in told


def test_instruments_from_filing_to_clearing(shell: Shell, data: Path) -> None:
    where = ("--by", "lead", "--data", data)
    dates = ("--calibrated-on", "2026-01-10", "--calibrated-until", "2027-01-10")
    filed = shell.json(
        "instruments", "file", "LOU-3", "--kind", "loupe", "--resolution", "0.1 mm", *dates,
        "--on", "2026-01-12", *where,
    )  # fmt: skip
    assert filed["calibrated_until"] == "2027-01-10"
    found = shell.json(
        "instruments", "doubt", "LOU-3", "--since", "2026-01-10", "--found-on", "2026-05-04",
        "--reason", "graticule moved", *where,
    )  # fmt: skip
    assert found["touched"] == []
    listed = shell.run("instruments", "list", "--as-of", "2026-06-01", "--data", data)
    assert "LOU-3-D1" in listed.stdout
    assert "Found out of tolerance" in listed.stdout
    again = shell.run("instruments", "touched", "LOU-3-D1", "--as-of", "2026-06-01", "--data", data)
    assert "No figure of it since then stands in the ledger." in again.stdout
    cleared = shell.json(
        "instruments",
        "clear",
        "LOU-3-D1",
        "--reason",
        "new graticule",
        "--on",
        "2026-05-06",
        *where,
    )
    assert cleared["cleared_on"] == "2026-05-06"
    done = ("--reason", "new graticule", "--on", "2026-05-07")
    other = ("--since", "2026-05-06", "--found-on", "2026-05-07", "--reason", "moved again")
    assert "LOU-3-D2" in shell.run("instruments", "doubt", "LOU-3", *other, *where).stdout
    assert "cleared" in shell.run("instruments", "clear", "LOU-3-D2", *done, *where).stdout


def test_credentials_are_noted_and_listed(shell: Shell, data: Path) -> None:
    shell.json(
        "credentials", "note", "wren", "--kind", "installer", "--issuer", "Fennel Bay",
        "--until", "2026-06-20", "--by", "lead", "--on", "2026-03-01", "--data", data,
    )  # fmt: skip
    listed = shell.run("credentials", "list", "--as-of", "2026-06-01", "--data", data, "--json")
    rows = json.loads(listed.stdout)
    assert [(r["person"], r["says"]) for r in rows] == [("wren", "Ends in 19 days")]


def test_what_nobody_had_written_by_a_day_is_not_listed(
    shell: Shell, tmp_path: Path, data: Path
) -> None:
    """Everything is written today, about days long past."""
    _entered(shell, tmp_path, data)
    where = ("--by", "lead", "--data", data)
    shell.json(
        "instruments", "file", "LOU-3", "--kind", "loupe", "--resolution", "0.1 mm",
        "--calibrated-on", "2025-01-10", "--calibrated-until", "2027-01-10", "--on", "2025-01-12",
        *where,
    )  # fmt: skip
    shell.json(
        "instruments", "doubt", "LOU-3", "--since", "2025-01-10", "--found-on", "2025-05-04",
        "--reason", "graticule moved", *where,
    )  # fmt: skip
    shell.json(
        "credentials", "note", "wren", "--kind", "installer", "--issuer", "Fennel Bay",
        "--until", "2026-06-20", "--on", "2025-03-01", *where,
    )  # fmt: skip
    asked = ("--as-of", "2025-06-01", "--data", data)
    early = ("--known-by", "2025-06-01")
    for kind in ("paper", "instruments", "credentials"):
        assert json.loads(shell.run(kind, "list", *asked, *early, "--json").stdout) == []
        assert len(json.loads(shell.run(kind, "list", *asked, "--json").stdout)) == 1
    late = ("--known-by", (today() + timedelta(days=1)).isoformat())
    for command in (("paper", "show", "W-17"), ("instruments", "touched", "LOU-3-D1")):
        assert shell.run(*command, *asked, *late).exit_code == 0
        assert shell.run(*command, *asked, *early).exit_code == 1
