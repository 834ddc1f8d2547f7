"""Every released version of every act loads and folds for ever.

The files of ``acts`` were written by ``scripts/golden_acts.py`` and are never edited: their digests
stand in ``SHA256SUMS``. Facts expected here are those of the invented story that the files tell.
"""

from __future__ import annotations

import hashlib
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.fold import fold_case
from lapwright.core.records import RecordSays, names_removed, record_states, register_faults
from lapwright.core.subjects import subjects_of
from lapwright.core.upcasting import newest
from lapwright.core.versions import history_of
from lapwright.ledger.log import MemoryLog

KEPT = Path(__file__).parent / "acts"
FILES = sorted(KEPT.glob("*.jsonl"))
LAST = date(2026, 4, 1)


def lines(path: Path) -> list[bytes]:
    """Return the acts' bytes of a file."""
    return path.read_bytes().splitlines()


def story() -> list[Act]:
    """Return the acts of all files in the order in which they were written."""
    acts = [Act.from_bytes(raw) for path in FILES for raw in lines(path)]
    return sorted(acts, key=lambda a: a.recorded_at)


def test_every_version_of_every_act_has_its_file() -> None:
    wanted = {
        f"{t}-{n}.jsonl" for t, (newest_, _) in ACT_TYPES.items() for n in range(1, newest_ + 1)
    }
    missing = wanted - {path.name for path in FILES}
    assert not missing, f"Add to scripts/golden_acts.py and run it: {sorted(missing)}"


def test_no_file_was_edited() -> None:
    sums = (KEPT / "SHA256SUMS").read_text("ascii").splitlines()
    told = {name: digest for digest, name in (line.split("  ") for line in sums)}
    assert len(told) == len(sums)
    assert told == {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in FILES}


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_it_loads_keeps_its_bytes_and_is_lifted(path: Path) -> None:
    type_, _, version = path.stem.rpartition("-")
    assert lines(path)
    for raw in lines(path):
        act = Act.from_bytes(raw)
        assert (act.type, act.version, act.to_bytes()) == (type_, int(version), raw)
        lifted = newest(act)
        needed, keys = ACT_TYPES[type_]
        assert lifted.version == needed
        assert set(keys) | set(act.body) <= set(lifted.body)
        subjects_of(act)


def test_the_case_folds() -> None:
    evidence = fold_case(story(), "TLH-09", as_of=LAST)
    assert evidence.basis is not None
    assert evidence.basis.option("zone") == "America/Chicago"
    assert (len(evidence.basis.ticks), len(evidence.basis.range_tables)) == (1, 1)
    assert (sorted(evidence.people), evidence.brazer, evidence.mark) == (
        ["ines", "teal"],
        "ines",
        "QP7K",
    )
    assert evidence.role("supervisor") == "omar"
    assert evidence.instruments["L1"].calibrated_until == date(2027, 1, 1)
    assert evidence.procedure is not None
    assert evidence.procedure.id == "BPS-3"
    (joint,) = evidence.joints
    assert ([e.stage for e in joint.examinations], joint.specimens) == (
        ["before-sawing", "visual"],
        (),
    )
    (face,) = joint.faces
    (reading,) = face.readings
    assert reading.share == Decimal("0.095")  # as corrected
    assert [t.what for t in evidence.trainings] == ["purge practice"]
    (doubt,) = evidence.doubts
    assert (doubt.about, doubt.cleared_on) == ("instrument:L1", date(2026, 3, 15))


def test_a_method_check_of_the_first_version_holds_no_figures() -> None:
    first, second = fold_case(story(), "TLH-09", as_of=LAST).methods
    assert (first.method, first.faces, first.bias, first.by) == ("face-trace/1", 40, None, "")
    assert (second.bias, second.by, second.given) == (Decimal("0.008531250"), "lead", 32)


def test_the_records_fold() -> None:
    old, new = record_states(story(), as_of=LAST)
    assert (old.name, old.says, old.register) == ("TLH-08-QP7K-r1", RecordSays.AWAITING, "")
    assert (new.name, new.says, new.register) == ("TLH-09-QP7K-r1", RecordSays.WITHDRAWN, "1")
    assert new.certified is not None
    assert (new.certified.by, [a.employer for a in new.accepted]) == ("omar", ["Fennel Bay Piping"])
    before = record_states(story(), as_of=date(2026, 3, 24))[1]
    assert before.says is RecordSays.CERTIFIED
    assert register_faults(story()).gaps == ()
    assert list(names_removed(story()).values()) == [date(2026, 3, 30)]


def test_the_correction_and_the_void_are_told() -> None:
    log = MemoryLog()
    log.append(story())
    by_type = {a.type: a for a in story()}
    read = history_of(log.entries(), by_type["FaceRead"].sha256)
    assert [v["kind"] for v in read["versions"]] == ["filed", "corrected"]
    assert history_of(log.entries(), by_type["SpecimenTested"].sha256)["now"] == "voided"
