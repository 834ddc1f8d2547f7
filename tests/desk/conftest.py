"""Ledgers on both databases."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from databases import Server
from lapwright.desk.boot import Store, open_store

Opener = Callable[[], Store]


@pytest.fixture(params=["postgresql", "sqlite"])
def database(request: pytest.FixtureRequest) -> Iterator[str]:
    """Yield the address of a new database; empty text is a file in the ledger's folder."""
    if request.param == "sqlite":
        yield ""
        return
    server: Server = request.getfixturevalue("postgresql")
    name = server.fresh()
    yield server.url(name)
    server.drop(name)


@pytest.fixture
def opener(tmp_path: Path, database: str) -> Iterator[Opener]:
    """Return what opens one and the same ledger, again and again."""
    opened: list[Store] = []

    def again() -> Store:
        opened.append(open_store(tmp_path / "ledger", database=database))
        return opened[-1]

    yield again
    for store in opened:
        store.close()


@pytest.fixture
def store(opener: Opener) -> Store:
    """Return an open and empty ledger."""
    return opener()
