"""A PostgreSQL server of our own for a run of the tests: made, started, stopped, removed.

It listens on a socket in its own folder only; nothing in it is worth a flush or
an orderly end. PostgreSQL refuses to run as root, so root's tests run it as
``postgres`` or ``nobody``. A shell stands between: it stops the server and
removes the folder as soon as its input ends, however the tests end.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import psycopg

from lapwright.desk.boot import open_store

OWNER = "keeper"
KEEPER = """
"$1/postgres" -D "$2/data" -k "$2" -c listen_addresses= -c max_connections=40 $3 >"$2/log" 2>&1 &
server=$!
read -r _
kill -QUIT "$server" 2>/dev/null
wait "$server"
rm -rf "$2" 2>/dev/null
"""
QUICK = "-c fsync=off -c full_page_writes=off -c max_wal_size=64MB -c min_wal_size=32MB"


class Server:
    """A running server; ``fresh`` makes a ledger's database in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._numbers = count(1)

    def url(self, database: str, user: str = OWNER) -> str:
        """Return the address of a database over the socket."""
        return f"postgresql://{user}@/{database}?host={self.folder}"

    def run(self, *statements: str, database: str = "postgres") -> None:
        """Run statements as the superuser, each by itself."""
        with psycopg.connect(self.url(database), autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)

    def empty(self) -> str:
        """Return the name of a new database without tables."""
        name = f"empty_{next(self._numbers)}"
        self.run(f"CREATE DATABASE {name}")
        return name

    def fresh(self) -> str:
        """Return the name of a new database with the tables of a ledger."""
        name = f"ledger_{next(self._numbers)}"
        self.run(f"CREATE DATABASE {name} TEMPLATE ledger_template")
        return name

    def drop(self, name: str) -> None:
        """Remove a database, whoever is connected to it."""
        self.run(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")

    def prepare(self) -> None:
        """Make the database that the fresh ones are copied from."""
        self.run("CREATE DATABASE ledger_template")
        store = open_store(self.folder / "unused", database=self.url("ledger_template"))
        store.close()


def programs() -> Path:
    """Return the folder of PostgreSQL's programs."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    named = shutil.which("initdb")
    if not found and not named:
        raise FileNotFoundError("initdb: run scripts/system_packages.sh tests")
    return found[-1].parent if found else Path(str(named)).resolve().parent


def other_user() -> dict[str, object]:
    """Return how a subprocess becomes somebody who may run the server."""
    if os.getuid() != 0:
        return {}
    known = {entry.pw_name: entry for entry in pwd.getpwall()}
    entry = known.get("postgres") or known["nobody"]
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": ()}


@contextmanager
def running_server(settings: str = QUICK) -> Iterator[Server]:
    """Yield a running server and stop it in the end."""
    somebody = other_user()
    folder = Path(tempfile.mkdtemp(prefix="lapwright-pg-", dir="/tmp"))
    if somebody:
        os.chown(folder, entry_id(somebody, "user"), entry_id(somebody, "group"))
    folder.chmod(0o755)
    made = [programs() / "initdb", "-D", folder / "data", "-U", OWNER, "-A", "trust"]
    options = ["-E", "UTF8", "--locale=C", "--no-sync"]
    _run([*map(str, made), *options], somebody)
    command = ["sh", "-c", KEEPER, "sh", str(programs()), str(folder), settings]
    # a session of its own: whoever ends the tests as a group leaves it to clean up
    keeper = subprocess.Popen(
        command, stdin=subprocess.PIPE, cwd="/", start_new_session=True, **somebody
    )  # type: ignore[call-overload]
    try:
        _wait(folder)
        server = Server(folder)
        server.prepare()
        yield server
    finally:
        keeper.communicate(b"\n", timeout=60)
        shutil.rmtree(folder, ignore_errors=True)


def entry_id(somebody: dict[str, object], kind: str) -> int:
    """Return the number of the user or group."""
    return int(str(somebody[kind]))


def _run(command: Sequence[str], somebody: dict[str, object]) -> None:
    subprocess.run(command, check=True, capture_output=True, cwd="/", **somebody)  # type: ignore[call-overload]


def _wait(folder: Path) -> None:
    for _ in range(300):
        try:
            psycopg.connect(f"postgresql://{OWNER}@/postgres?host={folder}").close()
            return
        except psycopg.OperationalError:
            time.sleep(0.05)
    raise TimeoutError((folder / "log").read_text())
