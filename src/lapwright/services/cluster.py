"""Map over a Dask cluster that the user already runs.

Before anything is handed out every worker is asked what it has: the same
Lapwright, the same method, the same OpenCV. What is sent is a small function
by value that imports the real one on the worker, because a worker that cannot
import what a task names would otherwise die of it and leave us waiting. Every
answer has its time. Certificates of ``tls://`` come from the user's own Dask
configuration (``distributed.comm.tls``).
"""

from __future__ import annotations

import contextlib
import logging
import queue
import re
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from .errors import ClusterPackagesMissing, SchedulerUnreached, WorkersUnfit
from .workers import Answers, Job, broken, lost, too_late

ADDRESS = re.compile(r"(tcp|tls)://[^/\s]+:\d{1,5}")
REACH_S = 30.0
TURN_S = 1.0
AHEAD = 2


def map_cluster(
    function: Job, items: Iterable[Any], *, address: str, timeout_s: float, reach_s: float = REACH_S
) -> Answers:
    """Yield (place, answer) from the workers of a cluster; see `workers.map_over`.

    Parameters
    ----------
    function : callable
        Named at the top of a module that the workers have.
    items : iterable
        Taken one by one, two for each thread of the cluster at a time.
    address : str
        ``tcp://host:port`` or ``tls://host:port``.
    timeout_s : float
        Longest wait for one answer from when it was handed out, [s].
    reach_s : float, optional
        Longest wait for scheduler and workers, [s].
    """
    with _client(address, reach_s) as client:
        mine = _facts_here()()
        threads = _fit_threads(client, mine, reach_s)
        yield from _Handed(client, _sent(function, mine), timeout_s, AHEAD * threads).run(items)


# ------------------------------------------------------------------ reaching it
@contextlib.contextmanager
def _client(address: str, reach_s: float) -> Iterator[Any]:
    if not ADDRESS.fullmatch(address):
        raise _unreached("not the address of a scheduler", address)
    security = _security(address)
    import dask
    from distributed import Client

    with _quiet(), dask.config.set({"distributed.admin.large-graph-warning-threshold": "1GB"}):
        try:
            client = Client(address, timeout=reach_s, set_as_default=False, security=security)
        except (OSError, ValueError) as fault:
            raise _unreached("the scheduler does not answer", f"{address} ({fault})") from fault
        try:
            yield client
        finally:
            client.close(timeout=5)


def _security(address: str) -> Any:
    """Return the settings of the connection; certificates are tried before a client is made."""
    try:
        from distributed.security import Security
    except ImportError as fault:
        raise ClusterPackagesMissing(
            "the packages for a cluster are not installed",
            got=str(fault),
            expected="dask with distributed",
            do="Install 'lapwright[cluster]', or leave out --scheduler.",
        ) from fault
    if address.startswith("tcp"):
        return Security()
    security = Security(require_encryption=True)
    try:
        if security.get_connection_args("client")["ssl_context"] is not None:
            return security
        got = "no certificates in Dask's settings"
    except OSError as fault:
        got = f"certificates that cannot be used ({fault})"
    raise _unreached("no way to speak to the scheduler", got)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep the library's own log off the screen: what matters is said in one line."""
    logger = logging.getLogger("distributed")
    level = logger.level
    logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        logger.setLevel(level)


def _unreached(what: str, got: str) -> SchedulerUnreached:
    return SchedulerUnreached(
        what,
        got=got,
        expected="a running Dask scheduler at tcp://host:port or tls://host:port",
        do="Start it, or correct the address; for tls:// name the certificates in Dask's settings.",
    )


# ------------------------------------------------------------------ asking the workers
def _facts_here() -> Callable[[], dict[str, str]]:
    """Return a function that is sent by value and says what a machine has."""

    def facts() -> dict[str, str]:
        import cv2

        import lapwright
        from lapwright.measure.settings import DEFAULT

        return {
            "Lapwright": lapwright.__version__,
            "method": DEFAULT.method(),
            "OpenCV": cv2.__version__,
        }

    return facts


def _fit_threads(client: Any, mine: dict[str, str], reach_s: float) -> int:
    """Return the threads of the cluster, all of whose workers have what we have."""
    expected = ", ".join(f"{name} {version}" for name, version in mine.items())
    try:
        client.wait_for_workers(1, timeout=reach_s)
        answers = _asked(client, reach_s)
    except TimeoutError as fault:
        raise _unfit("no worker that answers", f"nothing within {reach_s:g} s", expected) from fault
    odd = [
        f"{worker}: {_difference(found, mine)}"
        for worker, found in sorted(answers.items())
        if found != mine
    ]
    if odd:
        raise _unfit("workers that have another program", "; ".join(odd), expected)
    return max(1, sum(int(threads) for threads in client.nthreads().values()))


def _asked(client: Any, reach_s: float) -> dict[str, Any]:
    """Ask every worker, in a thread that may be left behind when none answers."""
    told: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def ask() -> None:
        try:
            told.put(client.run(_facts_here(), on_error="return"))
        except Exception as fault:
            told.put(fault)

    threading.Thread(target=ask, daemon=True).start()
    try:
        answers = told.get(timeout=reach_s)
    except queue.Empty:
        raise TimeoutError from None
    if isinstance(answers, Exception):
        raise _unreached("the scheduler was lost", repr(answers))
    return dict(answers)


def _difference(found: Any, mine: dict[str, str]) -> str:
    if not isinstance(found, dict):
        return f"{type(found).__name__}: {found}"
    return ", ".join(f"{name} {found.get(name)}" for name in mine if found.get(name) != mine[name])


def _unfit(what: str, got: str, expected: str) -> WorkersUnfit:
    return WorkersUnfit(
        what,
        got=got,
        expected=f"{expected} on every worker",
        do="Install this version of Lapwright with its packages on the workers, start them again.",
    )


# ------------------------------------------------------------------ handing out
def _sent(function: Job, mine: dict[str, str]) -> Job:
    """Return a function that is sent by value and calls the named one over there."""
    module, name, facts = function.__module__, function.__qualname__, _facts_here()

    def task(item: Any) -> tuple[str, object]:
        import importlib

        try:
            found = facts()
        except Exception as fault:
            return "unfit", f"{type(fault).__name__}: {fault}"
        if found != mine:
            return "unfit", f"{found}"
        workers = importlib.import_module("lapwright.services.workers")
        workers.one_thread()
        called = getattr(importlib.import_module(module), name)
        return "answered", workers.answer_of(called, item)

    return task


class _Handed:
    """What is with the cluster, when each answer is due, and what came back."""

    def __init__(self, client: Any, task: Job, timeout_s: float, most: int) -> None:
        self.client, self.task = client, task
        self.timeout_s, self.most = timeout_s, most
        self.open: dict[Any, tuple[int, Any, float]] = {}
        self.back: queue.SimpleQueue[Any] = queue.SimpleQueue()

    def run(self, items: Iterable[Any]) -> Answers:
        numbered = enumerate(items)
        more = True
        try:
            while more or self.open:
                while more and len(self.open) < self.most:
                    more = self._hand_out(next(numbered, None))
                yield from self._heard()
                yield from self._overdue()
        finally:
            self._take_back(list(self.open))

    def _hand_out(self, numbered: tuple[int, Any] | None) -> bool:
        if numbered is None:
            return False
        place, item = numbered
        future = self.client.submit(self.task, item, pure=False)
        self.open[future.key] = (place, future, time.monotonic() + self.timeout_s)
        future.add_done_callback(lambda done: self.back.put(done.key))
        return True

    def _heard(self) -> Answers:
        try:
            key = self.back.get(timeout=TURN_S)
        except queue.Empty:
            if self.open and self.client.status == "closed":
                raise _unreached("the scheduler was lost", self.client.status) from None
            return
        if key in self.open:  # else it was overdue and has been answered for
            place, future, _ = self.open.pop(key)
            yield place, self._answer(future)

    def _answer(self, future: Any) -> object:
        from distributed.scheduler import KilledWorker

        if future.status in ("cancelled", "lost"):
            raise _unreached("the scheduler was lost", f"a task that was {future.status}")
        try:
            kind, answer = future.result(timeout=self.timeout_s)
        except TimeoutError:
            return too_late(self.timeout_s)
        except KilledWorker as fault:
            return lost(fault.allowed_failures + 1, type(fault).__name__)
        except Exception as fault:
            return broken(fault)
        if kind == "answered":
            return answer
        return _unfit("a worker that has another program", str(answer), "the same program")

    def _overdue(self) -> Answers:
        now = time.monotonic()
        late = [key for key, (_, _, due) in self.open.items() if due <= now]
        for key in late:
            place, future, _ = self.open.pop(key)
            self._take_back([future])
            yield place, too_late(self.timeout_s)

    def _take_back(self, futures: list[Any]) -> None:
        with contextlib.suppress(Exception):  # the scheduler may be gone
            held = [self.open[f][1] if f in self.open else f for f in futures]
            self.client.cancel(held, force=True)
