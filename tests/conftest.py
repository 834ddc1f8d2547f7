"""Settings of every test: fixed random examples, and a closing note on file sizes."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import settings

from databases import Server, running_server
from repo.sizes import long_files, long_functions, many_parameters
from repo.tree import python_files, source_modules

settings.register_profile("ci", derandomize=True, deadline=None, max_examples=60)
settings.register_profile("nightly", derandomize=False, deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("LAPWRIGHT_EXAMPLES", "ci"))


@pytest.fixture(autouse=True, scope="session")
def home_of_its_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep keys and records of the tests out of the person's own folders."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LAPWRIGHT_DATA", str(tmp_path_factory.mktemp("home")))
        yield


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Server]:
    """Run a PostgreSQL server of our own on a socket for the tests that ask for it."""
    with running_server() as server:
        yield server


def smells() -> list[str]:
    """Name what is worth splitting; only what is far larger fails a test."""
    source = source_modules()
    return [
        *long_files(python_files(), limit=400),
        *long_functions(source, limit=40),
        *many_parameters(source, limit=6),
    ]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Close with what is larger than it should be."""
    if notes := smells():
        terminalreporter.section("files over 400 lines, bodies over 40, more than 6 parameters")
        for note in notes:
            terminalreporter.write_line(note)
