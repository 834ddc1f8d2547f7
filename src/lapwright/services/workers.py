"""Map a function over many items, on the cores of this machine or on a cluster.

`map_over` is the one door. An item never stops the others: what a function
refuses, what it breaks on, a worker that dies or does not answer, each becomes
a refusal that stands for its item. The caller's own interruption ends the
workers that were started here.
"""

from __future__ import annotations

import os
import traceback
from collections.abc import Callable, Generator, Iterable
from pathlib import Path
from typing import Any

from lapwright.core.errors import LapwrightError

from .errors import WorkerFailed, WorkerLost, WorkerTimedOut

Job = Callable[[Any], object]
Answers = Generator[tuple[int, object], None, None]
TIMEOUT_S = 300.0


def map_over(
    function: Job,
    items: Iterable[Any],
    *,
    workers: int,
    scheduler: str = "",
    timeout_s: float = TIMEOUT_S,
    retries: int = 2,
) -> Answers:
    """Yield every item's answer as soon as it is there.

    Parameters
    ----------
    function : callable
        Named at the top of a module, so that another process can import it.
        It takes one item: plain values only (text, bytes, numbers, lists,
        dictionaries).
    items : iterable
        Taken one by one as workers become free, never all at once.
    workers : int
        Processes on this machine; without meaning when a scheduler is given.
    scheduler : str, optional
        ``tcp://host:port`` or ``tls://host:port`` of a Dask cluster.
    timeout_s : float, optional
        Longest wait for one answer, [s].
    retries : int, optional
        How often an item is tried again whose worker died.

    Yields
    ------
    tuple of int and object
        Place of the item, counted from 0, and the answer: what the function
        returned, or a `LapwrightError`.

    Raises
    ------
    SchedulerUnreached, WorkersUnfit, ClusterPackagesMissing
        Of a cluster, before anything is handed out or when the scheduler is lost.
    """
    if scheduler:
        from .cluster import map_cluster

        return map_cluster(function, items, address=scheduler, timeout_s=timeout_s)
    from .localpool import map_local

    return map_local(function, items, workers=workers, timeout_s=timeout_s, retries=retries)


def local_cores() -> int:
    """Return the number of cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def answer_of(function: Job, item: Any) -> object:
    """Return what a function answers to an item; refusals and breakdowns are answers too."""
    try:
        return function(item)
    except LapwrightError as refusal:
        return refusal
    except (Exception, SystemExit) as fault:
        return broken(fault)


def broken(fault: BaseException) -> WorkerFailed:
    """Return the refusal that stands for a breakdown nobody foresaw."""
    frames = traceback.extract_tb(fault.__traceback__)
    place = f" at {Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    return WorkerFailed(
        "the program failed on this item",
        got=f"{type(fault).__name__}{place}: {fault}",
        expected="an answer or a coded refusal",
        do="Keep the file and report it as a fault of the program.",
    )


def too_late(timeout_s: float) -> WorkerTimedOut:
    """Return the refusal that stands for an answer that did not come."""
    return WorkerTimedOut(
        "no answer in time",
        got="nothing",
        expected=f"an answer within {timeout_s:g} s",
        do="Run again with a longer time, or with fewer workers.",
    )


def lost(tries: int, how: str) -> WorkerLost:
    """Return the refusal that stands for an item whose workers died."""
    return WorkerLost(
        "the worker ended before it answered",
        got=f"{how}, {tries} times",
        expected="a worker that lives until it has answered",
        do="Give it more memory or run fewer workers, then run again.",
    )


def one_thread() -> None:
    """Keep OpenCV to one thread: the workers already share out the cores."""
    import cv2

    cv2.setNumThreads(1)
