"""A real Dask cluster on loopback: what it answers, what it loses, which workers are not fit.

The clusters run in processes of their own; only the client of these tests opens connections.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from batches import clusters, jobs
from batches.conftest import lines
from lapwright.services.cluster import map_cluster
from lapwright.services.errors import (
    ClusterPackagesMissing,
    SchedulerUnreached,
    SidecarRefused,
    WorkerFailed,
    WorkerLost,
    WorkersUnfit,
    WorkerTimedOut,
)
from lapwright.services.workers import map_over

pytestmark = pytest.mark.enable_socket
PATH = os.pathsep.join(p for p in sys.path if p)


@contextlib.contextmanager
def started(*args: object) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Run a cluster until the end of the block; give its address and process."""
    with subprocess.Popen(
        [sys.executable, clusters.__file__, *map(str, args)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": PATH},
    ) as process:
        assert process.stdout is not None
        try:
            yield process.stdout.readline().strip(), process
        finally:
            process.communicate()


@contextlib.contextmanager
def stranger(address: str, folder: Path) -> Iterator[None]:
    """Run a worker that finds another Lapwright first; wait until the scheduler knows it."""
    with subprocess.Popen(
        [
            *(sys.executable, "-m", "distributed.cli.dask_worker", address),
            *("--no-nanny", "--nthreads", "1", "--no-dashboard", "--local-directory", str(folder)),
        ],
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join([str(folder), PATH])},
    ) as worker:
        assert worker.stderr is not None
        try:
            while "Registered to" not in (line := worker.stderr.readline()):
                assert line, "the worker did not start"
            yield
        finally:
            worker.kill()


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with started(2) as (address, _):
        yield address


@pytest.fixture(scope="module")
def bare() -> Iterator[str]:
    """A scheduler without workers."""
    with started(0) as (address, _):
        yield address


def run(function, items, address: str, **how) -> dict[int, object]:
    found = list(map_over(function, items, workers=1, scheduler=address, **how))
    assert sorted(place for place, _ in found) == list(range(len(list(items))))
    return dict(found)


def test_a_cluster_answers_every_item_in_its_place(address: str) -> None:
    assert run(jobs.square, range(23), address) == {n: n * n for n in range(23)}
    assert len(set(run(jobs.pid, range(12), address).values())) == 2


def test_large_items_travel_as_bytes(address: str) -> None:
    found = run(jobs.size, [bytes(12_000_000), b""], address)
    assert found == {0: 12_000_000, 1: 0}


def test_refusals_and_breakdowns_stay_with_their_items(address: str) -> None:
    found = run(jobs.refuse_odd, range(2), address)
    assert found[0] == 0
    assert isinstance(found[1], SidecarRefused)
    assert "[BATCH-002]" in str(found[1])
    found = run(jobs.break_on_three, range(5), address)
    assert isinstance(found[3], WorkerFailed)
    assert found[4] == 1.0


def test_an_item_that_takes_too_long_is_withdrawn(address: str) -> None:
    found = run(jobs.sleep, [6.0, 0.0], address, timeout_s=3.0)
    assert isinstance(found[0], WorkerTimedOut)
    assert found[1] == 0.0


def test_the_item_of_a_lost_worker_is_tried_again(address: str, tmp_path: Path) -> None:
    assert run(jobs.die_once, [str(tmp_path / "mark")], address) == {0: "answered"}


def test_an_item_that_kills_its_workers_is_given_up(address: str) -> None:
    found = run(jobs.die_on_two, [0, 2], address)
    assert isinstance(found[1], WorkerLost)
    assert found[0] == 0


def test_a_batch_on_a_cluster_writes_the_bytes_of_a_local_one(
    address, folder, tmp_path, batch
) -> None:
    (folder / "bad.jpg").write_text("no picture")
    batch(folder, tmp_path / "here")
    batch(folder, tmp_path / "there", scheduler=address)
    here, there = (tmp_path / name / "faces.jsonl" for name in ("here", "there"))
    assert here.read_bytes() == there.read_bytes()
    assert len(lines(tmp_path / "there")) == 4


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("raise ImportError('not on this machine')", "not on this machine"),
        ("__version__ = '0.0.1'", "ModuleNotFoundError"),
    ],
)
def test_workers_unfit_are_named_before_anything_is_handed_out(
    bare: str, tmp_path: Path, text: str, said: str
) -> None:
    (tmp_path / "lapwright").mkdir()
    (tmp_path / "lapwright" / "__init__.py").write_text(text)
    taken: list[int] = []
    with stranger(bare, tmp_path), pytest.raises(WorkersUnfit, match=said) as refusal:
        list(map_over(jobs.square, (taken.append(n) or n for n in range(3)), workers=1,
                      scheduler=bare, timeout_s=20))  # fmt: skip
    assert not taken
    assert "tcp://127.0.0.1:" in str(refusal.value)
    assert "expected Lapwright 0.1.0, method face-" in str(refusal.value)


def test_a_worker_with_another_version_is_not_fit(bare: str, tmp_path: Path) -> None:
    package = tmp_path / "lapwright"
    (package / "measure").mkdir(parents=True)
    (package / "__init__.py").write_text("__version__ = '0.0.1'")
    (package / "measure" / "__init__.py").touch()
    (package / "measure" / "settings.py").write_text(
        "class DEFAULT:\n    method = staticmethod(lambda: 'face-trace/0')\n"
    )
    with (
        stranger(bare, tmp_path),
        pytest.raises(WorkersUnfit, match=r"Lapwright 0\.0\.1, method face-trace/0"),
    ):
        list(map_over(jobs.square, range(3), workers=1, scheduler=bare, timeout_s=20))


def test_workers_unfit_when_there_is_none(bare: str) -> None:
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:  # a stranger of another test may still be listed
        with pytest.raises(WorkersUnfit) as refusal:
            list(map_cluster(jobs.square, [1], address=bare, timeout_s=5, reach_s=1.0))
        if "no worker that answers" in str(refusal.value):
            return
    raise AssertionError(str(refusal.value))


@pytest.mark.parametrize(
    "address", ["127.0.0.1:8786", "http://a:1", "tcp://a", "tcp://127.0.0.1:9"]
)
def test_scheduler_unreached(address: str) -> None:
    with pytest.raises(SchedulerUnreached, match="tcp://host:port"):
        list(map_cluster(jobs.square, [1], address=address, timeout_s=5, reach_s=1.0))


def test_scheduler_unreached_when_it_is_lost_during_the_run() -> None:
    with started(1) as (address, process):
        answers = map_cluster(jobs.sleep, [0.0, 30.0], address=address, timeout_s=60, reach_s=2.0)
        assert next(answers) == (0, 0.0)
        process.kill()
        start = time.monotonic()
        with pytest.raises(SchedulerUnreached, match="lost"):
            next(answers)
        assert time.monotonic() - start < 50


def test_cluster_packages_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed.security", None)
    with pytest.raises(ClusterPackagesMissing, match=r"lapwright\[cluster\]"):
        list(map_cluster(jobs.square, [1], address="tcp://h:1", timeout_s=5))


def test_the_command_works_with_an_encrypted_cluster(folder, tmp_path, shell) -> None:
    clusters.write_certificate(tmp_path)
    names = {"CA_FILE": "cert.pem", "CLIENT__CERT": "cert.pem", "CLIENT__KEY": "key.pem"}
    settings = {f"DASK_DISTRIBUTED__COMM__TLS__{k}": str(tmp_path / v) for k, v in names.items()}
    with started(1, tmp_path) as (address, _):
        assert address.startswith("tls://")
        args = ("face", "--batch", folder, "--out", tmp_path / "out", "--scheduler", address)
        done = shell(*args, **settings)
        assert done.returncode == 0, done.stderr
        assert len(lines(tmp_path / "out")) == 3
        refused = shell("face", "--batch", folder, "--out", tmp_path / "other", *args[-2:])
        assert refused.returncode == 1
        assert refused.stderr.strip().endswith("[BATCH-012]")
