"""Every change of an export is found, and the first bad entry or file is named.

The trust key is given from outside. `verifies` is pure, so its answers are kept
between the many checks of this page; it is tested by itself elsewhere.
"""

from __future__ import annotations

import functools
import hashlib
import json
import os
import random
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from lapwright.ledger import checker
from lapwright.ledger.checker import Checked, check
from lapwright.ledger.export import Making, manifest
from lapwright.ledger.heads import SignedHead
from lapwright.services.ledgerexport import export_ledger
from records.ledgers import AT, large_ledger, small_ledger, some_keys

KEY = some_keys().token_key.public_key().public_bytes_raw()


@pytest.fixture(scope="module", autouse=True)
def _quick() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(checker, "verifies", functools.lru_cache(None)(checker.verifies))
        yield


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("small")
    ledger = small_ledger(place / "data")
    export_ledger(place / "out", ledger, keys=some_keys(), at=AT, names="yes")
    return place / "out"


@pytest.fixture
def short(small: Path, tmp_path: Path) -> Path:
    """Return the export with a short checker and note: their bytes are hashed and no more."""
    folder = Path(shutil.copytree(small, tmp_path / "short"))
    for name in (checker.CHECKER, checker.NOTE):
        (folder / name).write_bytes(b"short\n")
    rows = []
    for path in _files(folder):
        if path.name != checker.MANIFEST:
            name, data = path.relative_to(folder).as_posix(), path.read_bytes()
            digest = hashlib.sha256(data).hexdigest()
            rows.append({"name": name, "sha256": digest, "size": str(len(data))})
    last = (folder / checker.HEADS).read_bytes().splitlines()[-1]
    making = Making(some_keys(), AT, "a test", names="yes")
    signed = manifest(rows, SignedHead.from_dict(json.loads(last)), making)
    (folder / checker.MANIFEST).write_bytes(signed)
    return folder


@pytest.fixture
def copy(small: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(small, tmp_path / "copy"))


def _checked(folder: Path) -> Checked:
    return check(folder, keys=[KEY])


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def _entry_of(data: bytes, place: int) -> int:
    """Return the number of the line that holds a byte."""
    return data.count(b"\n", 0, place)


def _unseen(folder: Path, path: Path, places: range | list[int]) -> list[str]:
    """Change one byte after the other; return the changes that are not found and named."""
    name, whole = path.relative_to(folder).as_posix(), path.read_bytes()
    unseen = []
    for place in places:
        changed = bytearray(whole)
        changed[place] ^= 1 + place % 255
        path.write_bytes(changed)
        faults = _checked(folder).faults
        named = any(fault.file == name for fault in faults)
        if name == checker.ACTS:
            entries = [f.entry for f in faults if f.file == name and f.entry is not None]
            named = named and entries[:1] == [_entry_of(whole, place)]
        if not named:
            unseen.append(f"{name} byte {place}: {faults}")
    path.write_bytes(whole)
    return unseen


def test_the_untouched_export_holds(small: Path) -> None:
    found = _checked(small)
    assert found.outcome == "met", list(found.lines())
    assert (found.acts, len(found.root)) == (6, 64)
    assert {path.name for path in _files(small)} >= {*checker.NEEDED, checker.SIDE}


def test_every_changed_byte_of_every_file_is_found_and_named(short: Path) -> None:
    assert _checked(short).outcome == "met"
    unseen = [
        told for path in _files(short) for told in _unseen(short, path, range(path.stat().st_size))
    ]
    assert not unseen
    assert _checked(short).outcome == "met"


@pytest.mark.parametrize("name", [checker.CHECKER, checker.NOTE])
def test_sampled_changes_of_checker_and_note_are_found_and_named(copy: Path, name: str) -> None:
    places = range(0, (copy / name).stat().st_size, 101)
    assert not _unseen(copy, copy / name, places)


def test_sampled_changes_of_a_larger_export_are_found_and_named(tmp_path: Path) -> None:
    ledger = large_ledger(tmp_path / "data", 2000)
    export_ledger(tmp_path / "out", ledger, keys=some_keys(), at=AT)
    acts = tmp_path / "out" / checker.ACTS
    places = random.Random(4).sample(range(acts.stat().st_size), 40)
    assert not _unseen(tmp_path / "out", acts, places)


@pytest.mark.parametrize("name", [checker.ACTS, checker.HEADS, checker.SIDE, checker.MANIFEST])
def test_every_length_a_file_can_be_cut_to_is_found(copy: Path, name: str) -> None:
    whole = (copy / name).read_bytes()
    for length in range(0, len(whole), 7):
        (copy / name).write_bytes(whole[:length])
        faults = _checked(copy).faults
        assert any(fault.file == name for fault in faults), length
        if name == checker.ACTS:
            entries = [f.entry for f in faults if f.file == name and f.entry is not None]
            assert entries[0] == _entry_of(whole, length)


def _lines(folder: Path, change: Callable[[list[bytes]], None], name: str = checker.ACTS) -> None:
    lines = (folder / name).read_bytes().splitlines(keepends=True)
    change(lines)
    (folder / name).write_bytes(b"".join(lines))


def _first_entry(folder: Path) -> tuple[int | None, str]:
    found = [f for f in _checked(folder).faults if f.file == checker.ACTS and f.entry is not None]
    return found[0].entry, found[0].says


def test_swapped_lines_name_the_first_of_them(copy: Path) -> None:
    def swap(lines: list[bytes]) -> None:
        lines[2], lines[3] = lines[3], lines[2]

    _lines(copy, swap)
    assert _first_entry(copy) == (2, "entry 2 (TrainingGiven) does not follow the entry before it")


def test_a_removed_last_line_is_missed_by_its_number(copy: Path) -> None:
    _lines(copy, lambda lines: lines.__delitem__(-1))
    assert _first_entry(copy) == (5, "ends early: entry 5 is missing, 6 are listed")


def test_a_line_added_at_the_end_is_named(copy: Path) -> None:
    _lines(copy, lambda lines: lines.append(lines[-1]))
    assert _first_entry(copy) == (6, "has more lines than the 6 entries listed")


def test_a_doubled_line_is_named_where_it_stands(copy: Path) -> None:
    _lines(copy, lambda lines: lines.insert(1, lines[0]))
    assert _first_entry(copy)[0] == 1


def test_an_act_written_in_another_form_is_named(copy: Path) -> None:
    def spaced(lines: list[bytes]) -> None:
        lines[1] = lines[1].replace(b'"type":"FaceRead"', b'"type": "FaceRead"')

    _lines(copy, spaced)
    assert _first_entry(copy) == (1, "entry 1 (FaceRead) is not an act in canonical form")


def test_an_extra_file_and_a_missing_one_are_named(copy: Path) -> None:
    (copy / "notes.txt").write_text("mine")
    (copy / "files" / "more").mkdir()
    (copy / "files" / "more" / "x").write_text("mine")
    gone = next((copy / "files").glob("[0-9a-f]*/*"))
    gone.unlink()
    told = {fault.file: fault.says for fault in _checked(copy).faults}
    assert told["notes.txt"] == told["files/more/x"] == "is extra: the list does not name it"
    assert told[gone.relative_to(copy).as_posix()].startswith("is ")
    assert (gone.relative_to(copy).as_posix(), "is missing") in [
        (f.file, f.says) for f in _checked(copy).faults
    ]


def test_a_link_to_a_folder_elsewhere_is_extra(copy: Path, tmp_path: Path) -> None:
    (copy / "elsewhere").symlink_to(tmp_path)
    assert "elsewhere" in {fault.file for fault in _checked(copy).faults}


def test_a_device_or_a_pipe_in_the_place_of_a_file_is_not_read(copy: Path) -> None:
    places = sorted((copy / "files").glob("*/*"))
    for place in places:
        place.unlink()
    places[0].symlink_to("/dev/zero")
    os.mkfifo(places[1])
    told = {fault.file: fault.says for fault in _checked(copy).faults}
    for place in places:
        assert "is not read" in told[place.relative_to(copy).as_posix()]


def _forged(folder: Path, change: Callable[[list[bytes]], None]) -> None:
    """Change entries and write chain and list anew, as somebody without the key could."""
    _lines(folder, change)
    rows = json.loads((folder / checker.MANIFEST).read_bytes())
    acts = (folder / checker.ACTS).read_bytes()
    for row in rows["files"]:
        if row["name"] == checker.ACTS:
            row["sha256"], row["size"] = hashlib.sha256(acts).hexdigest(), str(len(acts))
    (folder / checker.MANIFEST).write_bytes(checker._ENCODE(rows).encode() + b"\n")


def _rechained(lines: list[bytes]) -> None:
    """Change entry 4 and chain the rest again."""
    prev, versions = "0" * 64, {"": 0}
    for seq, line in enumerate(lines):
        row = json.loads(line)
        if seq == 4:
            row["act"]["body"]["outcome"] = "not met"
        raw = checker._ENCODE(row["act"]).encode()
        digest = hashlib.sha256(bytes.fromhex(prev) + raw).hexdigest()
        stream = row["act"].get("stream", "")
        row |= {"prev": prev, "sha256": digest, "version": str(versions.setdefault(stream, 0))}
        versions[stream] += 1
        lines[seq], prev = checker._ENCODE(row).encode() + b"\n", digest


def test_a_chain_written_anew_does_not_fit_the_signed_heads(copy: Path) -> None:
    _forged(copy, _rechained)
    found = _checked(copy)
    told = [(fault.file, fault.entry) for fault in found.faults]
    assert told == [(checker.MANIFEST, None), (checker.HEADS, 3)]
    assert "was changed after signing" in found.faults[0].says
    # the head of three entries still fits: what was changed comes after it
    assert "one from entry 3 on was changed" in found.faults[1].says


def test_another_programmes_key_is_not_the_one_given(small: Path) -> None:
    found = check(small, keys=[bytes(32)])
    assert [fault.file for fault in found.faults] == [checker.MANIFEST]
    assert "not by the one given" in found.faults[0].says


def test_without_a_key_from_outside_the_answer_stays_open(small: Path) -> None:
    found = check(small)
    assert found.outcome == "open"
    assert not found.faults


def test_the_first_of_several_keys_given_need_not_be_the_one(small: Path) -> None:
    assert check(small, keys=[bytes(32), KEY]).outcome == "met"


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"[]\n",
        b"{}\n",
        b'{"format":"lapwright-ledger/2"}\n',
        b"\xff\xfe\n",
        b"[" * 100_000 + b"\n",
        b'{"acts":1}\n',
        b"9" * 5000 + b"\n",
    ],
)
def test_a_list_that_is_none_is_told_in_words(copy: Path, text: bytes) -> None:
    (copy / checker.MANIFEST).write_bytes(text)
    found = _checked(copy)
    assert [fault.file for fault in found.faults] == [checker.MANIFEST]
    assert found.outcome == "not met"


@pytest.mark.parametrize("name", ["../../etc/passwd", "/etc/passwd", "files/../x", "acts.jsonl/"])
def test_a_list_that_points_outside_is_refused_before_anything_is_read(
    copy: Path, name: str
) -> None:
    rows = json.loads((copy / checker.MANIFEST).read_bytes())
    rows["files"].append({"name": name, "sha256": "0" * 64, "size": "1"})
    (copy / checker.MANIFEST).write_bytes(checker._ENCODE(rows).encode() + b"\n")
    found = _checked(copy)
    assert len(found.steps) == 1
    assert "no export has" in found.faults[0].says
