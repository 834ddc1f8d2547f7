"""A judged, issued and trusted case, made once."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lapwright.cli.main import cli
from lapwright.core.errors import LapwrightError
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.programme import Programme

from .building import case_folder, programme_in
from .studying import table, written

AT = datetime(2026, 3, 21, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="session")
def passed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case folder that passes: one photographed face, seven by loupe."""
    return case_folder(tmp_path_factory.mktemp("passed"), photos=(0,))


@pytest.fixture(scope="session")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of one installation."""
    return tmp_path_factory.mktemp("installation")


@pytest.fixture(scope="session")
def programme(home: Path) -> Programme:
    """The programme of that installation; its ledger is in memory."""
    return programme_in(home)


@pytest.fixture(scope="session")
def issued(passed: Path, programme: Programme, tmp_path_factory: pytest.TempPathFactory) -> Issued:
    """The record of the passing case."""
    out = tmp_path_factory.mktemp("out")
    return issue_case(passed, programme, as_of=date(2026, 3, 20), out=out, at=AT)


class Shell:
    """Runs the command as a person would; refusals become the one line on stderr."""

    def run(self, *args: object) -> Result:
        """Run ``lapwright ARGS``."""
        try:
            return CliRunner().invoke(cli, [str(a) for a in args], catch_exceptions=True)
        except LapwrightError as refusal:
            raise AssertionError(refusal) from refusal

    def json(self, *args: object) -> dict[str, object]:
        """Run and read the one JSON document on standard output."""
        result = self.run(*args, "--json")
        assert result.exit_code == 0, (result.output, result.exception)
        loaded: dict[str, object] = json.loads(result.stdout)
        return loaded


@pytest.fixture(scope="session")
def shell() -> Shell:
    return Shell()


@pytest.fixture
def readings(tmp_path: Path) -> Path:
    path = tmp_path / "readings.csv"
    path.write_bytes(written(table(32)))
    return path
