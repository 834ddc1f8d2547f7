"""Worker processes on this machine, each with a pipe of its own.

One item is with one worker at a time, so that the item of a worker that died
or hangs is known exactly: only this worker is ended and replaced. Processes
come from a small server that has loaded the measuring once (where the system
has none, each loads it itself); nothing is forked from a program that may hold
threads. A worker whose parent is gone sees its pipe end, and ends.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from typing import Any

from .workers import Answers, Job, answer_of, broken, lost, one_thread, too_late

PRELOAD = [
    "lapwright.measure.alone",
    "lapwright.measure.overlay",
    "lapwright.services.batchwork",
    "polib",
]
ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
END_S = 5.0


@dataclass
class _Task:
    place: int
    item: Any
    tries: int = 0


class _Worker:
    """One process, its pipe, and the task it is at."""

    def __init__(self, context: Any, function: Job) -> None:
        self.pipe: Connection
        self.pipe, far = context.Pipe()
        self.process = context.Process(target=_serve, args=(far, function), daemon=True)
        self.process.start()
        far.close()
        self.task: _Task | None = None
        self.deadline = 0.0

    def give(self, task: _Task, timeout_s: float) -> None:
        self.task, self.deadline = task, time.monotonic() + timeout_s
        task.tries += 1
        with contextlib.suppress(OSError):  # a dead worker is noticed when its pipe is read
            self.pipe.send(task.item)

    def end(self) -> None:
        self.pipe.close()
        self.process.terminate()
        self.process.join(END_S)
        if self.process.is_alive():
            self.process.kill()
            self.process.join()


def map_local(
    function: Job, items: Iterable[Any], *, workers: int, timeout_s: float, retries: int
) -> Answers:
    """Yield (place, answer) from processes of this machine; see `workers.map_over`.

    Parameters
    ----------
    function : callable
        Named at the top of a module.
    items : iterable
        Taken one by one.
    workers : int
        Most processes at a time.
    timeout_s : float
        Longest wait for one answer, [s].
    retries : int
        How often an item is tried again whose worker died.
    """
    pool = _Pool(function, max(1, workers), timeout_s, retries)
    try:
        yield from pool.run(_Task(place, item) for place, item in enumerate(items))
    finally:
        pool.end()


class _Pool:
    def __init__(self, function: Job, size: int, timeout_s: float, retries: int) -> None:
        self.function, self.size = function, size
        self.timeout_s, self.retries = timeout_s, retries
        self.context = _context()
        self.workers: list[_Worker] = []
        self.again: list[_Task] = []
        self.waiting: _Task | None = None

    def run(self, tasks: Iterator[_Task]) -> Answers:
        self._hand_out(tasks)
        while busy := [w for w in self.workers if w.task is not None]:
            for worker in self._heard(busy):
                answers = list(self._answer(worker))
                self._hand_out(tasks)  # the worker is at its next item while the answer is filed
                yield from answers
            yield from self._overdue()
            self._hand_out(tasks)

    def _hand_out(self, tasks: Iterator[_Task]) -> None:
        """Give every free worker an item, and have the next one ready."""
        self.waiting = self.waiting or self._next(tasks)
        while self.waiting is not None and (worker := self._idle()) is not None:
            worker.give(self.waiting, self.timeout_s)
            self.waiting = self._next(tasks)

    def _next(self, tasks: Iterator[_Task]) -> _Task | None:
        return self.again.pop() if self.again else next(tasks, None)

    def _idle(self) -> _Worker | None:
        free = next((w for w in self.workers if w.task is None), None)
        if free is None and len(self.workers) < self.size:
            with _single_threaded(), _interrupted_later():
                free = _Worker(self.context, self.function)
            self.workers.append(free)
        return free

    def _heard(self, busy: list[_Worker]) -> list[_Worker]:
        left = min(w.deadline for w in busy) - time.monotonic()
        ready = wait([w.pipe for w in busy], max(0.0, left))
        return [w for w in busy if w.pipe in ready]

    def _answer(self, worker: _Worker) -> Answers:
        task = worker.task
        assert task is not None
        try:
            answer = worker.pipe.recv()
        except (EOFError, OSError):
            self._drop(worker)
            if task.tries <= self.retries:
                self.again.append(task)
                return
            answer = lost(task.tries, f"exit status {worker.process.exitcode}")
        except Exception as fault:  # an answer that cannot be put together again
            answer = broken(fault)
        worker.task = None
        yield task.place, answer

    def _overdue(self) -> Answers:
        now = time.monotonic()
        for worker in [w for w in self.workers if w.task is not None and w.deadline <= now]:
            task = worker.task
            assert task is not None
            if not worker.pipe.poll():
                self._drop(worker)
                yield task.place, too_late(self.timeout_s)

    def _drop(self, worker: _Worker) -> None:
        self.workers.remove(worker)
        worker.end()

    def end(self) -> None:
        for worker in self.workers:
            worker.process.terminate()
        for worker in self.workers:
            worker.end()
        self.workers.clear()


def _context() -> Any:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(PRELOAD)
    return context


@contextlib.contextmanager
def _single_threaded() -> Iterator[None]:
    """Let a new process inherit one thread for its sums, and leave our own setting alone."""
    before = {name: os.environ.get(name) for name in ONE_THREAD}
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@contextlib.contextmanager
def _interrupted_later() -> Iterator[None]:
    """Let a new process inherit blocked interruptions: one that starts up has no handler yet.

    An interruption of our own waits until the process is made; none is lost.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(pipe: Connection, function: Job) -> None:
    """Answer items until the pipe ends; an interruption is the parent's affair."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    one_thread()
    with contextlib.suppress(EOFError, OSError):
        while True:
            answer = answer_of(function, pipe.recv())
            try:
                pipe.send(answer)
            except OSError:
                return
            except Exception as fault:  # an answer that cannot be sent
                pipe.send(broken(fault))
