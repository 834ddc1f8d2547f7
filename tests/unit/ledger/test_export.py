"""Exports: what is written, what comes back, what is refused."""

from __future__ import annotations

import ast
import errno
import hashlib
import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lapwright.core.acts import Act, canonical_json
from lapwright.ledger import checker, export, importing
from lapwright.ledger.checker import Tree, check
from lapwright.ledger.errors import ExportUnsound, FileGone, LedgerDamaged, LedgerNotEmpty
from lapwright.ledger.heads import sign_head
from lapwright.ledger.importing import import_export
from lapwright.ledger.log import Entry, Log, MemoryLog, SideRecord
from lapwright.ledger.tree import tree_head
from lapwright.services.errors import OutputRefused
from lapwright.services.ledgerexport import ExportReport, export_ledger
from lapwright.services.ledgerimport import import_ledger, restore
from records.ledgers import AT, NAME, Ledger, act, large_ledger, small_ledger, some_keys

KEY = some_keys().token_key.public_key().public_bytes_raw()


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    return small_ledger(tmp_path / "data")


def _export(ledger: Ledger, out: Path, **more: Any) -> ExportReport:
    return export_ledger(out, ledger, keys=some_keys(), at=AT, **more)


def _same(one: Log, other: Log) -> None:
    assert list(one.entries()) == list(other.entries())
    assert one.heads() == other.heads()
    assert one.side_records() == other.side_records()


def test_an_import_gives_back_what_was_exported(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "out", names="yes")
    again = Ledger(tmp_path / "again")
    taken = import_ledger(tmp_path / "out", lambda: again, trust=some_keys().trust).taken
    _same(ledger.log, again.log)
    assert list(again.files.names()) == list(ledger.files.names())
    assert (taken.evidence, taken.names, taken.heads) == (2, 1, 2)
    _export(again, tmp_path / "twice", names="yes")
    for name in (checker.ACTS, checker.HEADS, checker.SIDE):
        assert (tmp_path / "twice" / name).read_bytes() == (tmp_path / "out" / name).read_bytes()


TEXTS = st.text(max_size=12)
BODIES = st.recursive(
    TEXTS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3)
)


@settings(max_examples=30)
@given(
    rows=st.lists(
        st.tuples(st.sampled_from(["", "case/A", "case/Ä"]), BODIES, st.binary(max_size=5)),
        max_size=12,
    )
)
def test_whatever_the_acts_hold_comes_back(
    rows: list[tuple[str, Any, bytes]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    place = tmp_path_factory.mktemp("any")
    ledger, again = Ledger(place / "data"), Ledger(place / "again")
    for stream, value, data in rows:
        body = {"person": "ines", "what": "x", "more": value}
        named = (ledger.files.put(data),) if data else ()
        ledger.log.append([act("TrainingGiven", body, stream=stream, files=named)])
    _export(ledger, place / "out")
    assert check(place / "out", keys=[KEY]).outcome == "met"
    import_ledger(place / "out", lambda: again)
    _same(ledger.log, again.log)
    assert set(again.files.names()) == set(ledger.files.names())


def test_names_are_left_out_unless_asked_for(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "out")
    told = [path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert not any(b"Marlowe" in data for data in told)
    assert any(NAME.encode() in data for data in told)
    assert not (tmp_path / "out" / checker.SIDE).exists()


def test_a_folder_with_names_is_its_owners_alone(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "open")
    _export(ledger, tmp_path / "named", names="yes")
    assert (tmp_path / "open").stat().st_mode & 0o077 == 0o055
    assert (tmp_path / "named").stat().st_mode & 0o077 == 0


def test_the_bytes_of_an_act_come_back_with_the_standard_library(
    ledger: Ledger, tmp_path: Path
) -> None:
    _export(ledger, tmp_path / "out")
    prev = "0" * 64
    with (tmp_path / "out" / checker.ACTS).open(encoding="utf-8") as lines:
        for entry, text in zip(ledger.log.entries(), lines, strict=True):
            line = json.loads(text)  # as the reader's note says
            raw = json.dumps(
                line["act"], sort_keys=True, separators=(",", ":"), ensure_ascii=False
            ).encode()
            assert raw == entry.raw
            assert hashlib.sha256(bytes.fromhex(prev) + raw).hexdigest() == line["sha256"]
            prev = line["sha256"]


def test_an_export_of_a_ledger_being_written_holds_what_was_there(tmp_path: Path) -> None:
    ledger = large_ledger(tmp_path / "data", 50)

    class Growing(MemoryLog):
        def entries(self, **asked: Any) -> Iterator[Entry]:
            for entry in ledger.log.entries(**asked):
                ledger.log.append([act("TrainingGiven", {"person": "late", "what": "more"})])
                yield entry

        def size(self) -> int:
            return ledger.log.size()

    report = _export(Ledger(tmp_path / "data", Growing()), tmp_path / "out")
    assert report.written.head.size == 50
    assert ledger.log.size() > 50
    assert check(tmp_path / "out", keys=[KEY]).outcome == "met"


def test_the_head_of_an_unchanged_ledger_is_not_signed_again(
    ledger: Ledger, tmp_path: Path
) -> None:
    first = _export(ledger, tmp_path / "one").written.head
    later = export_ledger(
        tmp_path / "two", ledger, keys=some_keys(), at=AT + timedelta(days=1)
    ).written.head
    assert first == later
    assert ledger.log.heads()[-1] == first


def test_the_tree_of_the_checker_is_that_of_rfc_9162() -> None:
    tree, leaves = Tree(), [bytes([n]) * n for n in range(70)]
    for size, leaf in enumerate(leaves):
        assert tree.root() == tree_head(leaves[:size]).root_sha256
        tree.add(leaf)
    assert (tree.size, tree.root()) == (70, tree_head(leaves).root_sha256)


@pytest.mark.parametrize("inside", ["", "a folder/"])
def test_a_zip_of_an_export_is_checked_and_imported(
    ledger: Ledger, tmp_path: Path, inside: str
) -> None:
    _export(ledger, tmp_path / "out")
    with zipfile.ZipFile(tmp_path / "out.zip", "w", zipfile.ZIP_DEFLATED) as packed:
        for path in sorted((tmp_path / "out").rglob("*")):
            packed.write(path, inside + path.relative_to(tmp_path / "out").as_posix())
    assert check(tmp_path / "out.zip", keys=[KEY]).outcome == "met"
    again = Ledger(tmp_path / "again")
    import_ledger(tmp_path / "out.zip", lambda: again)
    assert list(again.log.entries()) == list(ledger.log.entries())
    with (
        pytest.warns(UserWarning, match="Duplicate name"),
        zipfile.ZipFile(tmp_path / "out.zip", "a") as packed,
    ):
        packed.writestr(f"{inside}acts.jsonl", b"another")
    told = [(fault.file, fault.says) for fault in check(tmp_path / "out.zip", keys=[KEY]).faults]
    assert ("acts.jsonl", "is there twice") in told


def test_a_damaged_zip_is_told_in_words(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "out")
    with zipfile.ZipFile(tmp_path / "out.zip", "w") as packed:
        for path in sorted((tmp_path / "out").rglob("*")):
            packed.write(path, path.relative_to(tmp_path / "out").as_posix())
    whole = (tmp_path / "out.zip").read_bytes()
    place = whole.index(b'{"act":')
    (tmp_path / "out.zip").write_bytes(whole[:place] + b"X" + whole[place + 1 :])
    found = check(tmp_path / "out.zip", keys=[KEY])
    assert found.outcome == "not met"
    assert any(fault.file == checker.ACTS for fault in found.faults)
    (tmp_path / "cut.zip").write_bytes(whole[:-40])
    assert check(tmp_path / "cut.zip", keys=[KEY]).steps[0].name == "source"


# ------------------------------------------------------------------ the script that it carries


def _run(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-I", "-S", "check.py", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=60)


def test_the_carried_checker_runs_by_itself(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "out", names="yes")
    trust = tmp_path / "trust.pem"
    trust.write_bytes((tmp_path / "out" / checker.TRUST).read_bytes())
    done = _run(tmp_path / "out", "--trust", str(trust))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[-1] == "Every check holds."
    assert "open" in _run(tmp_path / "out").stdout.splitlines()[-1]
    acts = tmp_path / "out" / checker.ACTS
    acts.write_bytes(acts.read_bytes().replace(b"again", b"never"))
    done = _run(tmp_path / "out", "--trust", str(trust))
    assert done.returncode == 1
    assert "entry 3 (TrainingGiven) is not what was chained: it was changed" in done.stdout
    assert _run(tmp_path / "out", "--trust", "nowhere.pem").returncode == 1


def test_the_carried_checker_is_the_module_itself(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "out")
    assert (tmp_path / "out" / checker.CHECKER).read_bytes() == Path(checker.__file__).read_bytes()


def test_the_checker_needs_python_3_9_and_nothing_else() -> None:
    tree = ast.parse(Path(checker.__file__).read_text("utf-8"), feature_version=(3, 9))
    wanted = {
        (node.module or "").partition(".")[0]
        if isinstance(node, ast.ImportFrom)
        else node.names[0].name
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
    }
    assert wanted <= set(sys.stdlib_module_names)


# ------------------------------------------------------------------ refusals


def _nothing_left(folder: Path, *kept: str) -> None:
    assert sorted(path.name for path in folder.iterdir()) == sorted(kept)


def test_export_unsound_is_not_imported(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "out")
    (tmp_path / "out" / checker.ACTS).write_bytes(b"")
    again = Ledger(tmp_path / "again")
    with pytest.raises(ExportUnsound, match="LEDG-030") as caught:
        import_ledger(tmp_path / "out", lambda: again)
    assert checker.ACTS in str(caught.value)
    assert (again.log.size(), again.log.heads()) == (0, ())
    assert not (tmp_path / "again").exists()
    with pytest.raises(ExportUnsound):
        restore(tmp_path / "out", tmp_path / "new", Ledger)
    assert not (tmp_path / "new").exists()


def test_an_export_changed_while_it_is_taken_in_is_refused(
    ledger: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _export(ledger, tmp_path / "out")
    checked = importing.checked_export(tmp_path / "out")
    acts = tmp_path / "out" / checker.ACTS
    acts.write_bytes(acts.read_bytes().replace(b"again", b"never"))
    with pytest.raises(ExportUnsound, match="changed while"):
        import_export(tmp_path / "out", MemoryLog(), ledger.files, checked=checked)


def test_ledger_not_empty_takes_no_import(ledger: Ledger, tmp_path: Path) -> None:
    _export(ledger, tmp_path / "out")
    other = large_ledger(tmp_path / "other", 3)
    for target in (ledger, other):
        size = target.log.size()
        with pytest.raises(LedgerNotEmpty, match="LEDG-031"):
            import_ledger(tmp_path / "out", iter([target]).__next__)
        assert target.log.size() == size


def test_an_import_that_was_cut_off_is_continued(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger, again = large_ledger(tmp_path / "data", 95), Ledger(tmp_path / "again")
    _export(ledger, tmp_path / "out")
    monkeypatch.setattr(importing, "LOT", 10)
    told = []

    def cut(text: str) -> None:
        told.append(text)
        if "filed" in text and len(told) == 4:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        import_ledger(tmp_path / "out", lambda: again, tell=cut)
    assert again.log.size() == 40
    import_ledger(tmp_path / "out", lambda: again)
    assert list(again.log.entries()) == list(ledger.log.entries())


def test_somebody_else_who_files_meanwhile_stops_an_import(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger, again = large_ledger(tmp_path / "data", 30), Ledger(tmp_path / "again")
    _export(ledger, tmp_path / "out")
    monkeypatch.setattr(importing, "LOT", 10)
    late = act("TrainingGiven", {"person": "late", "what": "more"})
    with pytest.raises(LedgerNotEmpty, match="nobody else"):
        import_ledger(
            tmp_path / "out",
            lambda: again,
            tell=lambda t: again.log.append([late]) if "filed" in t else 0,
        )


def test_ledger_damaged_is_not_exported_and_the_entry_is_named(
    ledger: Ledger, tmp_path: Path
) -> None:
    entries = ledger.log._entries  # type: ignore[attr-defined]
    entries[3] = replace(entries[3], raw=entries[3].raw.replace(b"again", b"never"))
    with pytest.raises(LedgerDamaged, match="LEDG-035") as caught:
        _export(ledger, tmp_path / "out")
    assert "entry 3" in str(caught.value)
    _nothing_left(tmp_path, "data")


def test_a_file_that_is_gone_stops_an_export_and_its_entry_is_named(
    ledger: Ledger, tmp_path: Path
) -> None:
    next((tmp_path / "data" / "files").glob("*/*")).write_bytes(b"something else")
    with pytest.raises(FileGone) as caught:
        _export(ledger, tmp_path / "out")
    assert caught.value.where.startswith("entry ")
    _nothing_left(tmp_path, "data")


def test_nothing_is_written_over(ledger: Ledger, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "mine").write_text("mine")
    with pytest.raises(OutputRefused):
        _export(ledger, tmp_path / "out")
    with pytest.raises(OutputRefused):
        restore(tmp_path / "out", tmp_path / "out", Ledger)
    assert (tmp_path / "out" / "mine").read_text() == "mine"


@pytest.mark.parametrize(("where", "number"), [("fsync", errno.ENOSPC), ("replace", errno.EROFS)])
def test_a_full_disk_or_a_read_only_folder_leaves_nothing_behind(
    ledger: Ledger, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str, number: int
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    heads = ledger.log.heads()
    monkeypatch.setattr(os, where, refuse)
    with pytest.raises(OutputRefused) as caught:
        _export(ledger, tmp_path / "out")
    assert os.strerror(number) in str(caught.value)
    _nothing_left(tmp_path, "data")
    assert ledger.log.heads() == heads


def test_an_interrupted_export_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger = large_ledger(tmp_path / "data", 20)
    monkeypatch.setattr(export, "_EVERY", 10)

    def interrupt(_: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        _export(ledger, tmp_path / "out", tell=interrupt)
    _nothing_left(tmp_path)


def test_a_head_signed_by_an_earlier_key_leaves_the_check_open(
    ledger: Ledger, tmp_path: Path
) -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    earlier = Ed25519PrivateKey.generate()
    leaves = [entry.raw for entry in ledger.log.entries()]
    ledger.log.put_head(sign_head(tree_head(leaves[:2]), earlier, at=AT))
    _export(ledger, tmp_path / "out")
    assert check(tmp_path / "out", keys=[KEY]).outcome == "open"
    both = [KEY, earlier.public_key().public_bytes_raw()]
    assert check(tmp_path / "out", keys=both).outcome == "met"


def test_a_name_that_does_not_open_its_commitment_is_found(ledger: Ledger, tmp_path: Path) -> None:
    side = {NAME: SideRecord("Somebody Else", b"salt of another person")}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ledger.log, "side_records", lambda: side)
        _export(ledger, tmp_path / "out", names="yes")
    assert [fault.file for fault in check(tmp_path / "out", keys=[KEY]).faults] == [checker.SIDE]


def test_lines_are_canonical_json(ledger: Ledger) -> None:
    for entry in ledger.log.entries():
        line = export.act_line(entry)
        assert canonical_json(json.loads(line)) + b"\n" == line
        assert Act.from_bytes(canonical_json(json.loads(line)["act"])) == entry.act
