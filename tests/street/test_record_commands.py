"""The commands on a ledger in its database, from issue to withdrawal."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from lapwright.cli.common import open_data, open_ledger, today
from lapwright.cli.main import cli
from lapwright.services.errors import DataMissing, OutputRefused, PersonUnknown
from records.hands import write_pair

from .building import AS_OF, FIRST_RUN, case_folder, edit
from .conftest import Shell

KILLED = """
import os, signal, sys
from lapwright.services import issuing
from lapwright.cli.main import main
def stop(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)
issuing.{place} = stop
main(sys.argv[1:])
"""


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return case_folder(tmp_path_factory.mktemp("case"), photos=(0,))


def _compared(signed_on: str) -> bytes:
    sides = {"former": "Quillon Pipeworks", "present": "Harrow Fold Mechanical"}
    named = {side: {"employer": employer} for side, employer in sides.items()}
    said = {"record": "TST-01", "person": "ines", "signed_on": signed_on}
    met = {"schema": "lapwright-comparison/1", "acceptance": {"outcome": "met"}}
    return json.dumps({**met, **said, **named}).encode()


def _issue(case: Path, data: Path, out: Path) -> list[str]:
    return ["issue", str(case), "--as-of", AS_OF, "--out", str(out), "--data", str(data)]


def test_a_record_lives_in_the_ledger_from_issue_to_withdrawal(
    case: Path, tmp_path: Path, shell: Shell
) -> None:
    data, out = tmp_path / "data", tmp_path / "out"
    first = shell.json(*_issue(case, data, out))
    assert first["number"] == "TST-01-QP7K"
    assert (first["register"], first["issued"]) == ("1", "new")
    again = shell.json(*_issue(case, data, out))
    assert (again["issued"], again["file_sha256"]) == ("again", first["file_sha256"])
    at = ["--data", data]
    listed = shell.json("record", "list", *at)["records"]
    assert [r["state"] for r in listed] == ["issued"]  # type: ignore[attr-defined]
    key = write_pair(tmp_path / "hollis.pem", "Hollis Wren")
    signed = tmp_path / "signed"
    made = shell.json(
        "record", "certify", "TST-01-QP7K", "--by", "hollis", "--key", key, "--out", signed, *at
    )
    shown = shell.run("record", "show", "TST-01-QP7K", *at).stdout
    assert "Certified by Hollis Wren" in shown
    pem = key.read_bytes()
    only = tmp_path / "only.pem"
    only.write_bytes(pem[pem.index(b"-----BEGIN CERTIFICATE") :])
    whole = shell.json("verify", made["path"], "--trust", only, *at)
    assert (whole["outcome"], whole["file_sha256"]) == ("met", made["file_sha256"])
    early = shell.run("verify", first["path"], *at)
    assert early.exit_code == 1
    assert "cut back to an earlier signature" in early.stdout
    scan, comparison = tmp_path / "scan.png", tmp_path / "comparison.json"
    scan.write_bytes(b"\x89PNG\r\n\x1a\n page")
    comparison.write_bytes(_compared(today().isoformat()))
    accepted = shell.json(
        "record", "accept", made["path"], "--by", "petra", "--name", "Petra Lindqvar",
        "--employer", "Harrow Fold Mechanical", "--comparison", comparison, "--scan", scan, *at,
    )  # fmt: skip
    assert accepted["way"] == "scan"
    shell.json("record", "withdraw", "TST-01-QP7K", "--by", "lead", "--reason", "mixed up", *at)
    gone = shell.json("record", "forget", "petra", "--by", "lead", "--reason", "asked", *at)
    assert gone["person"] == "petra"
    shown = shell.run("record", "show", "TST-01-QP7K", *at).stdout
    assert "It supports no joint: it was withdrawn." in shown
    assert "Accepted for Harrow Fold Mechanical by petra (name removed on" in shown
    late = shell.run("verify", made["path"], "--trust", only, *at)
    assert "withdrawn by Marit Underhill" in late.stdout


@pytest.mark.parametrize("place", ["seal_record", "record_act", "place_of", "take_number"])
def test_killed_between_issue_and_signature_the_next_issue_completes_it(
    place: str, case: Path, tmp_path: Path, shell: Shell
) -> None:
    data, out = tmp_path / "data", tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-c", KILLED.format(place=place), *_issue(case, data, out)],
        capture_output=True,
        check=False,
    )
    assert done.returncode == -signal.SIGKILL, done.stderr
    assert list(out.glob("*")) == []
    taken = shell.json("record", "list", "--data", data)["records"]
    before = 0 if place == "take_number" else 1
    assert [r["state"] for r in taken] == ["unsigned"] * before  # type: ignore[attr-defined]
    made = shell.json(*_issue(case, data, out))
    assert (made["register"], made["revision"]) == ("1", "1")
    assert shell.json("verify", made["path"], "--data", data)["outcome"] == "met"


def test_two_processes_issue_one_record(case: Path, tmp_path: Path, shell: Shell) -> None:
    data = tmp_path / "data"
    open_data(data, at=FIRST_RUN)  # keys and database are there
    started = [
        subprocess.Popen(
            [sys.executable, "-m", "lapwright", *_issue(case, data, tmp_path / n), "--json"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for n in ("one", "two")
    ]
    ended = [(p.communicate(timeout=120), p.returncode) for p in started]
    made = [json.loads(out) for (out, _), code in ended if code == 0]
    refused = [json.loads(out)["code"] for (out, _), code in ended if code]
    # Whoever files the case second may find that somebody was quicker, and says so.
    assert set(refused) <= {"LEDG-005"}
    assert made
    assert len({m["file_sha256"] for m in made}) == 1
    listed = shell.json("record", "list", "--data", data)["records"]
    assert [r["register"] for r in listed] == ["1"]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "args",
    [
        ["record", "certify", "X", "--by", "a"],
        ["record", "certify", "X", "--by", "a", "--key", "k", "--scan", "s"],
        ["record", "certify", "X", "--by", "a", "--key", "k"],
        ["record", "certify", "X", "--by", "a", "--key", "k", "--out", "o", "--on", "2026-01-01"],
        ["record", "certify", "X", "--by", "a", "--scan", "s", "--out", "o"],
        ["record", "withdraw", "X", "--by", "a"],
    ],
)
def test_wrong_usage_touches_nothing(args: list[str], tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "lapwright", *args, "--data", str(tmp_path / "data")],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    assert done.returncode == 2
    assert not (tmp_path / "data").exists()


@pytest.mark.parametrize("args", [["verify", "X.pdf"], ["record", "list"], ["record", "show", "X"]])
def test_data_missing_a_folder_without_a_ledger_is_refused_and_not_made(
    args: list[str], tmp_path: Path
) -> None:
    with pytest.raises(DataMissing, match=r"\[ISSUE-023\]"):
        cli.main([*args, "--data", str(tmp_path / "none")], standalone_mode=False)
    assert not (tmp_path / "none").exists()
    (tmp_path / "none").mkdir()
    (tmp_path / "none" / "photo.jpg").write_bytes(b"of another folder")
    with pytest.raises(DataMissing):
        cli.main([*args, "--data", str(tmp_path / "none")], standalone_mode=False)
    assert [p.name for p in (tmp_path / "none").iterdir()] == ["photo.jpg"]


def test_a_ledger_without_keys_is_asked_all_the_same(tmp_path: Path, shell: Shell) -> None:
    open_ledger(tmp_path / "data")
    assert shell.json("record", "list", "--data", tmp_path / "data")["records"] == []
    assert not (tmp_path / "data" / "keys").exists()


def test_an_offline_check_needs_no_database(case: Path, tmp_path: Path, shell: Shell) -> None:
    """Nothing is written, and Django is not even loaded."""
    data, out = tmp_path / "data", tmp_path / "out"
    made = shell.json(*_issue(case, data, out))
    code = (
        "import sys\nfrom lapwright.cli.main import main\n"
        "try:\n    main(sys.argv[1:])\nfinally:\n    print('django' in sys.modules)"
    )
    trust = str(data / "keys" / "trust.pem")
    done = subprocess.run(
        [sys.executable, "-c", code, "verify", str(made["path"]), "--trust", trust],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"LAPWRIGHT_DATA": str(tmp_path / "none")},
    )
    assert done.stdout.splitlines()[-1] == "False"
    assert not (tmp_path / "none").exists()


def test_a_list_is_in_the_order_of_its_numbers_and_a_proof_writes_over_nothing(
    shell: Shell, tmp_path: Path
) -> None:
    data, out = tmp_path / "data", tmp_path / "out"
    first = case_folder(tmp_path, number="TST-31")
    second = case_folder(tmp_path, number="TST-32")
    for folder in (first, second):
        shell.json(*_issue(folder, data, out))
    edit(first, lambda d: d["coupons"][0]["brazed"].update(fuel="propane"))
    shell.json(*_issue(first, data, out))
    rows = shell.json("record", "list", "--data", data)["records"]
    assert isinstance(rows, list)
    assert [(r["record"][:6], r["register"]) for r in rows] == [("TST-32", "2"), ("TST-31", "3")]
    proof = tmp_path / "proof.json"
    assert shell.run("ledger", "prove", "--data", data, "--out", proof).exit_code == 0
    before = proof.read_bytes()
    again = shell.run("ledger", "prove", "--data", data, "--out", proof)
    assert isinstance(again.exception, OutputRefused)
    assert proof.read_bytes() == before


def test_ids_of_nobody_are_refused_for_instruments_and_credentials(
    shell: Shell, tmp_path: Path
) -> None:
    data = tmp_path / "data"
    folder = case_folder(tmp_path, number="TST-33")
    assert shell.run("ledger", "import", folder, "--data", data).exit_code == 0
    found = ("--reason", "moved", "--since", "2026-03-01", "--found-on", "2026-03-02")
    told = shell.run("instruments", "doubt", "CAL-2", *found, "--by", "nix", "--data", data)
    assert isinstance(told.exception, PersonUnknown)
    noted = ("--kind", "installer", "--issuer", "Fennel Bay", "--until", "2027-01-01")
    where = ("--by", "lead", "--data", data)
    told = shell.run("credentials", "note", "p31", *noted, *where)
    assert isinstance(told.exception, PersonUnknown)
    named = ("--name", "Nora Lund", "--employer", "Quillon Pipeworks")
    assert shell.run("credentials", "note", "p31", *noted, *named, *where).exit_code == 0
    assert shell.run("credentials", "note", "p31", *noted, *where).exit_code == 0
