"""Random acts in every order: the databases answer as the log in memory does."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    rule,
    run_state_machine_as_test,
)

from databases import Server
from lapwright.core.acts import Act, commitment
from lapwright.core.subjects import subjects_of
from lapwright.desk.boot import Store, open_store
from lapwright.ledger.errors import StreamMoved
from lapwright.ledger.heads import SignedHead
from lapwright.ledger.log import MemoryLog, first_broken

STREAMS = st.sampled_from(["", "programme", "case/A", "case/B", "record/ü'%s"])
WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
SUBJECTS = st.sampled_from(["ines", "omar", "p\0q", "é" * 200, "%s", ""])
HEX = st.binary(min_size=32, max_size=32).map(bytes.hex)


@st.composite
def acts(draw: st.DrawFn) -> Act:
    """Return an act of one of four kinds with odd texts in it."""
    who, word = draw(SUBJECTS), draw(WORDS)
    kind, body = draw(
        st.sampled_from(
            [
                ("TrainingGiven", {"person": who, "what": word}),
                ("DoubtRaised", {"about": f"record:{who}", "by": who, "reason": word}),
                ("NameRemoved", {"name_commitment": who, "reason": word}),
                ("LedgerClosed", {"reason": word, "more": {"reader": who, "list": [word]}}),
            ]
        )
    )
    days = st.dates(date(1990, 1, 1), date(2090, 1, 1))
    at = datetime(2026, 3, 13, tzinfo=UTC)
    return Act(kind, body, draw(days), "lead", at, stream=draw(STREAMS))


class Logs(RuleBasedStateMachine):
    """One log in memory and one in a database, given the same."""

    maker: Callable[[], Store]

    def __init__(self) -> None:
        super().__init__()
        self.memory = MemoryLog()
        self.store = self.maker()
        self.subjects: set[str] = {"person:nobody"}
        self.names: list[str] = []

    @rule(given=st.lists(acts(), max_size=6))
    def append(self, given: list[Act]) -> None:
        self.subjects.update(subject for act in given for subject in subjects_of(act))
        assert self.store.log.append(given) == self.memory.append(given)

    @rule(given=st.lists(acts(), max_size=3), stream=STREAMS, off=st.integers(-1, 1))
    def append_as_seen(self, given: list[Act], stream: str, off: int) -> None:
        expect = {stream: len(list(self.memory.entries(stream=stream))) + off}
        outcomes = []
        for log in (self.store.log, self.memory):
            try:
                outcomes.append(str(log.append(given, expect=expect)))
            except StreamMoved as refusal:
                outcomes.append(str(refusal))
        assert outcomes[0] == outcomes[1]
        self.subjects.update(subject for act in given for subject in subjects_of(act))

    @rule(name=WORDS.filter(lambda w: "\0" not in w))
    def put_side(self, name: str) -> None:
        salt = name.encode().ljust(16, b".")
        self.names.append(commitment(name, salt))
        for log in (self.store.log, self.memory):
            log.put_side(self.names[-1], name, salt)

    @rule(which=st.integers(0, 3))
    def remove_side(self, which: int) -> None:
        for log in (self.store.log, self.memory):
            log.remove_side(self.names[which] if which < len(self.names) else "ab" * 32)

    @rule(size=st.integers(0, 9), signature=HEX)
    def put_head(self, size: int, signature: str) -> None:
        head = SignedHead(size, "ab" * 32, "2026-03-13T00:00:00Z", "k" * 16, signature)
        for log in (self.store.log, self.memory, self.store.log):
            log.put_head(head)

    @rule()
    def rebuild(self) -> None:
        self.store.rebuild()
        assert self.store.compare().same == "yes"

    @rule()
    def reopen(self) -> None:
        self.store.close()

    @rule(since=st.integers(-1, 12), stream=st.none() | STREAMS)
    def read(self, since: int, stream: str | None) -> None:
        ours = list(self.store.log.entries(stream=stream, since=max(since, 0)))
        assert ours == list(self.memory.entries(stream=stream, since=max(since, 0)))

    @invariant()
    def same(self) -> None:
        ours, theirs = self.store.log, self.memory
        assert list(ours.entries()) == list(theirs.entries())
        assert first_broken(ours.entries()) is ours.first_broken() is None
        assert ours.side_records() == theirs.side_records()
        assert ours.heads() == theirs.heads()
        for subject in self.subjects:
            assert list(ours.about(subject)) == list(theirs.about(subject))
        assert list(ours.about(*self.subjects)) == list(theirs.about(*self.subjects))

    def teardown(self) -> None:
        self.store.close()


@pytest.fixture
def folders(tmp_path: Path) -> Callable[[], Path]:
    """Return what makes a folder with a new ledger, copied from one that was made once."""
    open_store(tmp_path / "first").close()

    def fresh() -> Path:
        folder = Path(tempfile.mkdtemp(dir=tmp_path))
        shutil.copy(tmp_path / "first" / "ledger.sqlite3", folder)
        return folder

    return fresh


def run(maker: Callable[[], Store], *, share: int) -> None:
    machine = type("Machine", (Logs,), {"maker": staticmethod(maker)})
    chosen = settings(max_examples=settings().max_examples // share, stateful_step_count=12)
    run_state_machine_as_test(machine, settings=chosen)


def test_sqlite_answers_as_memory_does(folders: Callable[[], Path]) -> None:
    run(lambda: open_store(folders()), share=3)


def test_postgresql_answers_as_memory_does(tmp_path: Path, postgresql: Server) -> None:
    names: list[str] = []

    def fresh() -> Store:
        for name in names:
            postgresql.drop(name)
        names[:] = [postgresql.fresh()]
        folder = Path(tempfile.mkdtemp(dir=tmp_path))  # a folder holds one ledger
        return open_store(folder, database=postgresql.url(names[0]))

    run(fresh, share=6)  # each example makes a database
    postgresql.drop(names[0])
