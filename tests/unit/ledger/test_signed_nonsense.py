"""Exports signed by the key's holder that hold what no ledger takes; imports that stop half way.

The checker that an export carries and `Act` are written apart from each other: each
is the other's witness for what an act may be.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from lapwright.core.acts import Act, canonical_json
from lapwright.core.errors import ActFromNewer, ActRefused
from lapwright.ledger import checker
from lapwright.ledger.checker import check
from lapwright.ledger.errors import ExportUnsound
from lapwright.ledger.export import Making, manifest
from lapwright.ledger.heads import sign_head
from lapwright.ledger.log import GENESIS
from lapwright.ledger.tree import tree_head
from lapwright.services.ledgerexport import export_ledger
from lapwright.services.ledgerimport import import_ledger
from records.ledgers import AT, Ledger, act, small_ledger, some_keys

KEYS = some_keys()
KEY = KEYS.token_key.public_key().public_bytes_raw()
GOOD = json.loads(act("TrainingGiven", {"person": "p", "what": "x"}, stream="case/A").to_bytes())


def signed(folder: Path, *acts: dict[str, Any]) -> Path:
    """Write an export of these acts in which all that is signed and chained is right."""
    export_ledger(folder, Ledger(folder.parent / "none"), keys=KEYS, at=AT)
    prev, versions, leaves = GENESIS, dict[str, int](), [checker._ENCODE(a).encode() for a in acts]
    lines = b""
    for seq, (one, raw) in enumerate(zip(acts, leaves, strict=True)):
        digest = hashlib.sha256(bytes.fromhex(prev) + raw).hexdigest()
        stream = str(one.get("stream", ""))
        version = versions[stream] = versions.get(stream, -1) + 1
        row = f',"prev":"{prev}","seq":"{seq}","sha256":"{digest}","version":"{version}"}}\n'
        lines, prev = lines + b'{"act":' + raw + row.encode(), digest
    head = sign_head(tree_head(leaves), KEYS.token_key, at=AT)
    (folder / checker.ACTS).write_bytes(lines)
    (folder / checker.HEADS).write_bytes(canonical_json(head.as_dict()) + b"\n")
    rows = [
        {"name": p.name, "sha256": hashlib.sha256(p.read_bytes()).hexdigest(),
         "size": str(p.stat().st_size)}
        for p in folder.iterdir() if p.name != checker.MANIFEST
    ]  # fmt: skip
    (folder / checker.MANIFEST).write_bytes(manifest(rows, head, Making(KEYS, AT, "a test")))
    return folder


def refused(place: Path, *acts: dict[str, Any]) -> str:
    """Import such an export; return the refusal of a ledger that was never opened."""
    opened: list[object] = []
    with pytest.raises((ExportUnsound, ActFromNewer)) as caught:
        import_ledger(signed(place / "out", *acts), lambda: opened.append(1))  # type: ignore[func-returns-value,arg-type,return-value]
    assert not opened
    return str(caught.value)


def test_what_is_signed_here_is_a_sound_export(tmp_path: Path) -> None:
    assert check(signed(tmp_path / "out", GOOD, GOOD), keys=[KEY]).outcome == "met"
    again = Ledger(tmp_path / "again")
    import_ledger(tmp_path / "out", lambda: again)
    assert again.log.size() == 2


@pytest.mark.parametrize(
    "change",
    [
        {"body": GOOD["body"] | {"n": 5}},
        {"body": GOOD["body"] | {"n": [{"deep": float("nan")}]}},
        {"body": GOOD["body"] | {"n": True}},
        {"body": GOOD["body"] | {"n": None}},
        {"happened_on": "2026-02-30"},
        {"happened_on": "20260304"},
        {"recorded_at": "2026-03-13T07:30:00.5Z"},
        {"recorded_at": "2026-03-13T25:00:00Z"},
        {"recorded_at": "2026-03-13T07:30:00+00:00"},
        {"happened_at": "2026-03-13"},
        {"happened_at": "noon"},
        {"version": "0"},
        {"version": "01"},
        {"files": []},
        {"stream": ""},
    ],
)
def test_the_checker_refuses_what_no_act_may_hold(change: dict[str, Any], tmp_path: Path) -> None:
    found = check(signed(tmp_path / "seen", GOOD, GOOD | change), keys=[KEY])
    assert (found.faults[0].file, found.faults[0].entry) == (checker.ACTS, 1)
    assert "entry 1" in refused(tmp_path, GOOD, GOOD | change)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"type": "Zzz"}, "entry 1: an entry that this version of the program does not know"),
        ({"zzz": "x"}, "entry 1: an entry that this version of the program does not know"),
        ({"body": {"person": "p"}}, "entry 1: the body of TrainingGiven lacks what"),
        ({"stream": "s" * 256}, "entry 1: the name of its stream"),
        ({"stream": "s\0x"}, "entry 1: the name of its stream"),
    ],
)
def test_what_only_this_program_refuses_is_refused_before_a_ledger_is_opened(
    change: dict[str, Any], told: str, tmp_path: Path
) -> None:
    assert told in refused(tmp_path, GOOD, GOOD | change)


PLAIN: st.SearchStrategy[Any] = st.recursive(
    st.text(max_size=4) | st.none() | st.booleans() | st.integers() | st.floats(),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=4,
)
DAYS = st.dates().map(str) | st.sampled_from(["2026-2-3", "2026-02-29", "2024-02-29", "x", ""])
MOMENTS = st.datetimes().map(lambda d: d.isoformat()) | st.sampled_from(
    ["2026-03-13T07:30:00Z", "2026-03-13T07:30Z", "2026-03-13T07:30:00+05:30", "Z", ""]
)


@given(
    change=st.fixed_dictionaries(
        {},
        optional={
            "body": PLAIN.map(lambda v: GOOD["body"] | {"more": v}) | PLAIN,
            "happened_on": DAYS | PLAIN,
            "recorded_at": MOMENTS | MOMENTS.map(lambda t: t + "Z") | PLAIN,
            "happened_at": MOMENTS | PLAIN,
            "recorded_by": PLAIN,
            "stream": PLAIN,
            "version": st.integers(-1, 3).map(str) | PLAIN,
        },
    )
)
@example(change={"recorded_at": "2026-03-13T07:30:00Z"})
@example(change={"version": "1"})
def test_checker_and_act_agree_on_what_an_act_may_hold(change: dict[str, Any]) -> None:
    raw = checker._ENCODE(GOOD | change).encode(errors="surrogatepass")
    try:
        Act.from_bytes(raw)
        holds = True
    except ActFromNewer:
        return
    except ActRefused:
        holds = False
    try:
        plain = bool(checker._PLAIN.fullmatch(raw)) and checker._is_act(
            checker._DECODE(raw.decode())
        )
    except ValueError:
        plain = False
    if holds:
        assert plain, raw
    elif "lacks" not in _why(raw) and "no such version" not in _why(raw):
        assert not plain, raw


def _why(raw: bytes) -> str:
    with pytest.raises(ActRefused) as caught:
        Act.from_bytes(raw)
    return str(caught.value)


# ------------------------------------------------------------------ zips, and imports that stop


def test_a_folder_of_a_zip_that_holds_something_is_extra(tmp_path: Path) -> None:
    export_ledger(tmp_path / "out", small_ledger(tmp_path / "data"), keys=KEYS, at=AT)
    with zipfile.ZipFile(tmp_path / "out.zip", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("files/", b"")
        for path in sorted((tmp_path / "out").rglob("*")):
            if path.is_file():
                packed.write(path, path.relative_to(tmp_path / "out").as_posix())
    assert check(tmp_path / "out.zip", keys=[KEY]).outcome == "met"
    for kind in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        with zipfile.ZipFile(tmp_path / "out.zip", "a") as packed:
            packed.writestr(f"hidden-{kind}/", b"x", kind)
        told = [(fault.file, fault.says) for fault in check(tmp_path / "out.zip").faults]
        assert (f"hidden-{kind}/", "is extra: the list does not name it") in told


def _stopped(ledger: Ledger, name: str) -> Callable[[], Ledger]:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    setattr(ledger.log, name, stop)
    return lambda: ledger


@pytest.mark.parametrize(("name", "entries"), [("append", 0), ("put_head", 6)])
def test_heads_come_last_and_an_import_cut_off_before_them_is_continued(
    name: str, entries: int, tmp_path: Path
) -> None:
    export_ledger(tmp_path / "out", small_ledger(tmp_path / "data"), keys=KEYS, at=AT, names="yes")
    again = Ledger(tmp_path / "again")
    with pytest.raises(KeyboardInterrupt):
        import_ledger(tmp_path / "out", _stopped(again, name))
    assert (again.log.size(), again.log.heads()) == (entries, ())
    delattr(again.log, name)
    done = import_ledger(tmp_path / "out", lambda: again)
    assert [head.size for head in again.log.heads()] == [3, 6]
    assert (again.log.size(), done.taken.heads) == (6, 2)
