"""Filing a case folder into the ledger closes its session: the tree head over it is signed."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from lapwright.ledger.tree import tree_head
from lapwright.services.caseimport import import_case
from lapwright.services.filing import file_case

from .building import case_folder, edit, programme_in
from .conftest import Shell

AT = datetime(2026, 3, 21, 9, tzinfo=UTC)


def test_the_head_over_all_entries_is_signed_once(tmp_path: Path) -> None:
    folder, made = case_folder(tmp_path), programme_in(tmp_path / "home")
    done = import_case(folder, made, at=AT)
    assert done.filed.added == done.head.size == made.log.size()
    assert done.head.root == tree_head([e.raw for e in made.log.entries()]).root_hex
    assert done.head.holds(made.keys.token_key.public_key()) == "yes"
    again = import_case(folder, made, at=AT.replace(hour=10))
    assert (again.filed.added, again.head) == (0, done.head)
    assert made.log.heads() == (done.head,)


def test_what_the_folder_adds_later_closes_it_anew(tmp_path: Path) -> None:
    folder, made = case_folder(tmp_path), programme_in(tmp_path / "home")
    first = import_case(folder, made, at=AT).head
    row = {"on": "2026-03-02", "what": "practice", "by": "lead"}
    edit(folder, lambda d: d.setdefault("training", []).append(row))
    second = import_case(folder, made, at=AT).head
    assert second.size == first.size + 1
    assert made.log.heads() == (first, second)


def test_a_signing_that_was_cut_off_is_done_the_next_time(tmp_path: Path) -> None:
    folder, made = case_folder(tmp_path), programme_in(tmp_path / "home")
    salt = made.keys.salt
    file_case(folder, log=made.log, files=made.files, secret=salt, at=AT)
    assert made.log.heads() == ()
    done = import_case(folder, made, at=AT)
    assert (done.filed.added, done.head.size) == (0, made.log.size())


def test_the_command_tells_the_head(tmp_path: Path, shell: Shell) -> None:
    folder, home = case_folder(tmp_path), tmp_path / "home"
    told = shell.json("ledger", "import", folder, "--data", home)
    head = told["head"]
    assert isinstance(head, dict)
    assert (head["size"], told["case"]) == (told["added"], "TST-01")
    again = shell.run("ledger", "import", folder, "--data", home).stdout
    assert head["root"] in again
    assert "0 entries added" in again
