"""Real processes: what is answered, refused, broken, late or lost stays with its item."""

from __future__ import annotations

import os
import pickle
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from batches import jobs
from lapwright.core.errors import SizeRefused
from lapwright.services.errors import SidecarRefused, WorkerFailed, WorkerLost, WorkerTimedOut
from lapwright.services.workers import local_cores, map_over


def run(function, items, **how) -> dict[int, object]:
    found = list(map_over(function, items, **({"workers": 2} | how)))
    assert sorted(place for place, _ in found) == list(range(len(list(items))))
    return dict(found)


def test_every_item_is_answered_in_its_place() -> None:
    assert run(jobs.square, range(23)) == {n: n * n for n in range(23)}


def test_the_work_is_done_in_as_many_processes_as_asked() -> None:
    for workers in (1, 2, 3):
        pids = set(run(jobs.pid, range(12), workers=workers).values())
        assert len(pids) == workers
        assert os.getpid() not in pids


def test_no_more_processes_are_started_than_there_is_work() -> None:
    assert len(set(run(jobs.pid, [0], workers=8).values())) == 1


def test_answers_come_as_they_are_ready() -> None:
    order = [place for place, _ in map_over(jobs.slow_when_even, range(2), workers=2)]
    assert order == [1, 0]


def test_items_are_taken_only_as_workers_become_free() -> None:
    taken: list[int] = []

    def items() -> Iterator[int]:
        for n in range(100):
            taken.append(n)
            yield n

    answers = map_over(jobs.square, items(), workers=2)
    next(answers)
    assert len(taken) <= 5
    answers.close()


def test_a_worker_goes_on_while_its_last_answer_is_filed(tmp_path: Path) -> None:
    paths = [str(tmp_path / name) for name in "ab"]
    answers = map_over(jobs.touch, paths, workers=1)
    assert next(answers) == (0, paths[0])
    latest = time.monotonic() + 60  # nobody asks for the second answer yet
    while not Path(paths[1]).exists() and time.monotonic() < latest:
        time.sleep(0.01)
    assert Path(paths[1]).exists()
    assert list(answers) == [(1, paths[1])]


def test_a_refusal_stays_with_its_item_and_keeps_its_words() -> None:
    found = run(jobs.refuse_odd, range(4))
    assert (found[0], found[2]) == (0, 2)
    for place in (1, 3):
        refusal = found[place]
        assert isinstance(refusal, SidecarRefused)
        assert str(refusal) == f"here: odd: got {place}, expected even. Double it. [BATCH-002]"


def test_refusals_survive_the_way_between_processes() -> None:
    refusal = SizeRefused("a", got=(1, 2), expected="b", do="C.", where="d", cite="e")
    again = pickle.loads(pickle.dumps(refusal))
    assert type(again) is SizeRefused
    assert again.as_dict() == refusal.as_dict()


def test_worker_failed_names_fault_and_place() -> None:
    found = run(jobs.break_on_three, range(5))
    fault = found[3]
    assert isinstance(fault, WorkerFailed)
    assert "ZeroDivisionError at jobs.py:" in str(fault)
    assert found[4] == 1.0


def test_a_function_that_leaves_the_program_leaves_only_its_item() -> None:
    found = run(jobs.leave, [7, 8])
    assert all(isinstance(fault, WorkerFailed) for fault in found.values())


def test_an_answer_that_cannot_be_sent_is_a_breakdown_of_its_item() -> None:
    found = run(jobs.unsendable, range(2))
    assert all(isinstance(fault, WorkerFailed) for fault in found.values())


def test_an_answer_that_cannot_be_read_is_a_breakdown_of_its_item() -> None:
    found = run(jobs.unreadable, range(3))
    assert all(isinstance(fault, WorkerFailed) for fault in found.values())


def test_worker_timed_out_ends_only_the_worker_that_hangs() -> None:
    start = time.monotonic()
    found = run(jobs.hang_on_two, range(8), timeout_s=4.0)
    assert time.monotonic() - start < 60
    assert isinstance(found.pop(2), WorkerTimedOut)
    assert found == {n: n for n in range(8) if n != 2}


def test_worker_lost_after_as_many_tries_as_allowed() -> None:
    found = run(jobs.die_on_two, range(8), retries=1)
    gone = found.pop(2)
    assert isinstance(gone, WorkerLost)
    assert "2 times" in str(gone)
    assert found == {n: n for n in range(8) if n != 2}


def test_an_item_whose_worker_died_once_is_tried_again(tmp_path: Path) -> None:
    marks = [str(tmp_path / name) for name in "abc"]
    assert set(run(jobs.die_once, marks).values()) == {"answered"}


def test_closing_the_answers_ends_the_workers() -> None:
    answers = map_over(jobs.pid, range(100), workers=2)
    pids = {next(answers)[1] for _ in range(6)}
    answers.close()
    for pid in pids:
        assert isinstance(pid, int)
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)


def test_workers_keep_opencv_to_one_thread_and_leave_the_caller_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("OMP_NUM_THREADS", "5")
    monkeypatch.delenv("OPENBLAS_NUM_THREADS", raising=False)
    assert set(run(jobs.threads, range(4)).values()) == {1}
    assert os.environ["OMP_NUM_THREADS"] == "5"
    assert "OPENBLAS_NUM_THREADS" not in os.environ


def test_there_is_at_least_one_core() -> None:
    assert 1 <= local_cores() <= (os.cpu_count() or 1)
