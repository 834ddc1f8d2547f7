"""Numbers of the register have no gaps, whatever happens; what was issued is completed."""

from __future__ import annotations

import copy
import json
import threading
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import Act
from lapwright.core.outcomes import Outcome
from lapwright.ledger.errors import StreamMoved, TreeRefused
from lapwright.ledger.files import FileStore
from lapwright.ledger.keys import open_keys
from lapwright.ledger.lastleaf import head_at_last, subtrees_at
from lapwright.ledger.log import MemoryLog
from lapwright.ledger.tree import inclusion_proof, tree_head
from lapwright.services.errors import RecordIsWithdrawn
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.lastplace import last_subtrees
from lapwright.services.programme import Programme
from lapwright.services.register import (
    REGISTER,
    numbers,
    record_act,
    record_state,
    record_stream,
    take_number,
)
from lapwright.services.sealing import place_of
from lapwright.services.verifying import verify_file
from lapwright.services.withdrawing import withdraw_record
from records.conftest import AS_OF, AT
from street.building import case_folder, edit

STEPS = st.lists(
    st.tuples(
        st.sampled_from(["issue", "raced", "cut off", "withdraw", "sign"]),
        st.sampled_from(["A-1", "B-2", "C-3"]),
    ),
    max_size=25,
)


class Sequence:
    """A register driven by steps, without pages."""

    def __init__(self) -> None:
        self.log = MemoryLog()
        self.at = AT
        self.taken = 0

    def step(self, what: str, number: str) -> None:
        self.at += timedelta(minutes=1)
        state = record_state(self.log, number)
        latest = state.latest
        if what == "issue":
            self._take(number)
        elif what == "cut off":
            with pytest.raises(KeyboardInterrupt):
                self._cut_off(number)
        elif what == "raced":
            self._raced(number)
        elif latest is not None and what == "withdraw" and latest.withdrawn is None:
            body = {"by": "lead", "reason": "wrong coupon"}
            self.log.append([record_act("RecordWithdrawn", latest, body, by="lead", at=self.at)])
        elif latest is not None and what == "sign" and latest.signed is None:
            body = {"file_sha256": "ab" * 32}
            self.log.append([record_act("RecordSigned", latest, body, by="lead", at=self.at)])

    def _take(self, number: str, state: Any = None) -> None:
        body = {"payload_sha256": "cd" * 32, "person": "ines", "case": "A"}
        state = state or record_state(self.log, number)
        take_number(self.log, state, body, files=(), at=self.at)
        self.taken += 1

    def _cut_off(self, number: str) -> None:
        real, log = self.log, copy.deepcopy(self.log)
        log.append = _interrupt  # type: ignore[method-assign]
        self.log = log
        try:
            self._take(number)
        finally:
            self.log = real

    def _raced(self, number: str) -> None:
        """Two look at the same register, then both issue: one of them must look again."""
        seen = record_state(self.log, number)
        self._take(number)
        with pytest.raises(StreamMoved):
            take_number(self.log, seen, {"payload_sha256": "", "person": "", "case": ""},
                        files=(), at=self.at)  # fmt: skip


def _interrupt(*_: object, **__: object) -> None:
    raise KeyboardInterrupt


@given(STEPS)
def test_numbers_have_no_gaps_over_random_sequences(steps: list[tuple[str, str]]) -> None:
    made = Sequence()
    for what, number in steps:
        made.step(what, number)
    acts = [e.act for e in made.log.entries()]
    issued = [a for a in acts if a.type == "RecordIssued"]
    taken = [a for a in acts if a.type == "NumberTaken"]
    assert [a.body["register"] for a in taken] == [str(n + 1) for n in range(made.taken)]
    assert [a.body["register"] for a in issued] == [a.body["register"] for a in taken]
    for number in numbers(made.log):
        own = [a.body["revision"] for a in issued if a.body["record"] == number]
        assert own == [str(n + 1) for n in range(len(own))]
        assert len(record_state(made.log, number).revisions) == len(own)


@given(st.integers(1, 300))
def test_head_and_proof_in_one_pass_are_those_of_the_tree(size: int) -> None:
    """Witness: the tree built whole, after RFC 9162."""
    leaves = [str(n).encode() for n in range(size)]
    head, proof = head_at_last(leaves)
    assert head == tree_head(leaves)
    assert proof == inclusion_proof(leaves, size - 1)


@given(st.integers(1, 200), st.integers(1, 200))
def test_a_tree_is_continued_from_the_proof_of_its_last_leaf(first: int, more: int) -> None:
    """Witness: the tree built whole, after RFC 9162."""
    leaves = [str(n).encode() for n in range(first + more)]
    _, known = head_at_last(leaves[:first])
    held, subtrees = subtrees_at(first, leaves[first - 1], known)
    assert held == tree_head(leaves[:first])
    head, proof = head_at_last(leaves[first:], subtrees)
    assert head == tree_head(leaves)
    assert proof == inclusion_proof(leaves, len(leaves) - 1)
    with pytest.raises(TreeRefused):
        subtrees_at(first, leaves[first - 1], [*known, bytes(32)])


def test_the_tree_is_read_from_the_last_record_on(
    programme: Programme, issued: Issued, monkeypatch: pytest.MonkeyPatch
) -> None:
    log = programme.log
    place = record_state(log, issued.number).revisions[0].issued.seq
    behind = last_subtrees(programme, before=log.size())
    assert sum(count for count, _ in behind) == place + 1
    assert last_subtrees(programme, before=place) == ()
    last = list(log.entries())[-1]
    asked: list[int] = []
    real = log.entries

    def entries(*, stream: str | None = None, since: int = 0) -> Any:
        asked.append(since)
        return real(stream=stream, since=since)

    monkeypatch.setattr(log, "entries", entries)
    placed = place_of(log, last, programme.keys, behind=behind)
    assert asked == [place + 1]
    monkeypatch.undo()
    assert placed == place_of(log, last, programme.keys)


def test_a_record_that_does_not_prove_its_place_is_passed_over(
    programme: Programme, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another key, a file that is gone, an entry that is no longer the one that was signed."""
    size, log = programme.log.size(), programme.log
    other = replace(programme, keys=open_keys(tmp_path / "keys", made_at=AT))
    assert last_subtrees(other, before=size) == ()
    assert last_subtrees(replace(programme, files=FileStore(tmp_path)), before=size) == ()
    real = log.entries

    def changed(*, stream: str | None = None, since: int = 0) -> Any:
        for entry in real(stream=stream, since=since):
            if entry.act.type != "RecordIssued":
                yield entry
                continue
            act = replace(entry.act, body={**entry.act.body, "as_of": "2026-01-01"})
            yield replace(entry, raw=act.to_bytes())

    monkeypatch.setattr(log, "entries", changed)
    assert last_subtrees(programme, before=size) == ()


def test_the_acts_of_an_issue_stand_in_their_order(programme: Programme, issued: Issued) -> None:
    acts = [e.act for e in programme.log.entries()]
    assert [(a.type, a.stream) for a in acts[-3:]] == [
        ("NumberTaken", REGISTER),
        ("RecordIssued", record_stream(issued.number)),
        ("RecordSigned", record_stream(issued.number)),
    ]
    made = acts[-2]
    assert {k: made.body[k] for k in ("record", "revision", "register", "person", "case")} == {
        "record": "TST-01-QP7K",
        "revision": "1",
        "register": "1",
        "person": "ines",
        "case": "TST-01",
    }
    assert made.body["payload_sha256"] == issued.payload_sha256 == made.files[0]
    assert acts[-1].files == (issued.file_sha256,)
    assert all(programme.files.get(d) for a in acts for d in a.files)


def test_the_head_over_everything_up_to_the_issue_is_signed_and_kept(
    programme: Programme, issued: Issued
) -> None:
    (head,) = programme.log.heads()
    raws = [e.raw for e in programme.log.entries()][:-1]  # without RecordSigned
    assert head.head == tree_head(raws)
    assert head.holds(programme.keys.trust.token_key) == "yes"
    assert head.at == "2026-03-21T09:30:00Z"
    assert issued.register == "1"


def _fresh(programme: Programme, place: Path) -> Programme:
    """The same keys, an empty ledger, files of its own."""
    return replace(programme, log=MemoryLog(), files=FileStore(place / "files"))


class Stopped(BaseException):
    """The program ends here, as if it had been killed."""


def _stop_at(programme: Programme, type_: str, monkeypatch: pytest.MonkeyPatch) -> None:
    real = programme.log.append

    def append(acts: Any, **kept: Any) -> Any:
        acts = list(acts)
        if any(a.type == type_ for a in acts):
            raise Stopped
        return real(acts, **kept)

    monkeypatch.setattr(programme.log, "append", append)


@pytest.mark.parametrize("type_", ["RecordIssued", "RecordSigned"])
def test_a_killed_issue_is_completed_as_the_same_record(
    type_: str,
    programme: Programme,
    issued: Issued,
    folder: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Witness: the record of the same case, keys and moment that nothing disturbed."""
    killed = _fresh(programme, tmp_path)
    _stop_at(killed, type_, monkeypatch)
    with pytest.raises(Stopped):
        issue_case(folder, killed, as_of=AS_OF, out=tmp_path / "out", at=AT)
    assert not list((tmp_path / "out").glob("*.pdf"))
    monkeypatch.undo()
    later = AT if type_ == "RecordIssued" else AT + timedelta(days=2)
    done = issue_case(folder, killed, as_of=AS_OF, out=tmp_path / "out", at=later)
    assert done.path.read_bytes() == issued.path.read_bytes()
    assert (done.register, done.revision) == ("1", "1")
    signed = [e.act for e in killed.log.entries()][-1]
    assert (signed.type, signed.recorded_at) == ("RecordSigned", later)


def test_a_killed_issue_is_completed_first_when_the_case_has_changed(
    programme: Programme, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, home = case_folder(tmp_path), _fresh(programme, tmp_path)
    _stop_at(home, "RecordSigned", monkeypatch)
    with pytest.raises(Stopped):
        issue_case(folder, home, as_of=AS_OF, out=tmp_path / "out", at=AT)
    monkeypatch.undo()
    edit(folder, lambda d: d["coupons"][0]["joints"][0].update(clearance="0.005 in"))
    later = AT + timedelta(hours=1)
    second = issue_case(folder, home, as_of=AS_OF, out=tmp_path / "out", at=later)
    assert (second.register, second.revision, second.again) == ("2", "2", "no")
    state = record_state(home.log, second.number)
    assert [r.files != () for r in state.revisions] == [True, True]
    assert home.files.get(state.revisions[0].files[0]).startswith(b"%PDF-")


def test_two_who_issue_at_once_give_one_record(
    programme: Programme, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The slower one finds the number taken, looks again, and gives the other's record."""
    home = _fresh(programme, tmp_path)
    gate, real = threading.Barrier(2, timeout=30), home.log.append
    lock, waited = threading.Lock(), set()

    def append(acts: Any, **kept: Any) -> Any:
        acts = list(acts)
        if acts[0].type == "NumberTaken" and threading.get_ident() not in waited:
            waited.add(threading.get_ident())
            gate.wait()
        with lock:
            return real(acts, **kept)

    monkeypatch.setattr(home.log, "append", append)
    from lapwright.services.filing import file_case

    file_case(folder, log=home.log, files=home.files, secret=home.keys.salt, at=AT)
    made: dict[str, Issued] = {}

    def issue(name: str) -> None:
        made[name] = issue_case(folder, home, as_of=AS_OF, out=tmp_path / name, at=AT)

    threads = [threading.Thread(target=issue, args=(n,)) for n in ("one", "two")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert made["one"].path.read_bytes() == made["two"].path.read_bytes()
    acts = [e.act for e in home.log.entries()]
    counted = [a.type for a in acts if a.stream != "case/TST-01"]
    assert counted == ["NumberTaken", "RecordIssued", "RecordSigned"]


def test_record_is_withdrawn_an_unchanged_case_is_not_issued_again(
    programme: Programme, issued: Issued, folder: Path, tmp_path: Path
) -> None:
    reason = "the parcel was mixed up"
    withdraw_record(issued.number, programme, by="lead", reason=reason, at=AT)
    later = datetime(2026, 4, 1, tzinfo=UTC)
    with pytest.raises(RecordIsWithdrawn, match=r"mixed up.*\[ISSUE-012\]"):
        issue_case(folder, programme, as_of=AS_OF, out=tmp_path / "out", at=later)
    assert not list((tmp_path / "out").glob("*.pdf"))


def test_a_withdrawn_record_gets_a_next_revision_that_says_so(
    programme: Programme, tmp_path: Path, data: Path
) -> None:
    from unit.documents.witness import text_of

    folder, home = case_folder(tmp_path), _fresh(programme, tmp_path)
    first = issue_case(folder, home, as_of=AS_OF, out=tmp_path / "out", at=AT)
    withdraw_record(first.number, home, by="lead", reason="signed in error", at=AT)
    edit(folder, lambda d: d["written"].update(reason="the parcel was found in order"))
    second = issue_case(folder, home, as_of=AS_OF, out=tmp_path / "out", at=AT)
    told = " ".join(text_of(second.path.read_bytes()).split())
    assert "withdrawn on 2026-03-21: signed in error" in told
    assert "Marit Underhill: the parcel was found in order" in told
    assert (second.register, second.revision) == ("2", "2")
    report = verify_file(second.path, [data / "keys" / "trust.pem"], log=home.log)
    assert report.outcome is Outcome.MET, [f.message for f in report.findings]
    again = issue_case(folder, home, as_of=AS_OF, out=tmp_path / "out", at=AT)
    assert (again.again, again.revision) == ("yes", "2")


def test_a_ledger_of_several_cases_judges_each_by_itself(
    programme: Programme, issued: Issued, tmp_path: Path, data: Path
) -> None:
    """The record proves its place among the entries of others, and carries none of them."""
    from lapwright.documents.container import inspect_record
    from lapwright.services.recordfile import parts_of

    other = case_folder(tmp_path, number="TST-02")
    made = issue_case(other, programme, as_of=AS_OF, out=tmp_path / "out", at=AT)
    assert made.register == "2"
    parts = parts_of(inspect_record(made.path.read_bytes(), trusted=[], moment=None), "record")
    assert "TST-01" not in json.dumps([parts.data, parts.issue])
    trust = [data / "keys" / "trust.pem"]
    for path in (issued.path, made.path):
        report = verify_file(path, trust, log=programme.log)
        assert report.outcome is Outcome.MET, [f.message for f in report.findings]


def test_acts_of_an_older_shape_stay_readable() -> None:
    body = {"record": "TLH-01-QP7K-r1", "payload_sha256": "ab" * 32}
    act = Act("RecordIssued", body, date(2026, 3, 20), "programme", AT)
    assert Act.from_bytes(act.to_bytes()) == act
