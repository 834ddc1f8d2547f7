"""An issued record in a ledger, made once, and copies of that ledger to go on from."""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from lapwright.services.certifying import Signing, certify_record
from lapwright.services.hands import Hand, read_hand
from lapwright.services.issuing import Issued, issue_case
from lapwright.services.programme import Programme
from records.hands import write_pair
from street.building import case_folder, programme_in

AS_OF = date(2026, 3, 20)
AT = datetime(2026, 3, 21, 9, 30, tzinfo=UTC)
SIGNED_AT = datetime(2026, 3, 25, 14, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case folder that passes, one face photographed."""
    return case_folder(tmp_path_factory.mktemp("case"), photos=(0,))


@pytest.fixture(scope="session")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder of the programme."""
    return tmp_path_factory.mktemp("data")


@pytest.fixture(scope="session")
def first(
    folder: Path, data: Path, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Programme, Issued]:
    """The programme as it was when the record had been issued."""
    programme = programme_in(data)
    out = tmp_path_factory.mktemp("out")
    return programme, issue_case(folder, programme, as_of=AS_OF, out=out, at=AT)


@pytest.fixture
def issued(first: tuple[Programme, Issued]) -> Issued:
    return first[1]


@pytest.fixture
def programme(first: tuple[Programme, Issued]) -> Programme:
    """The programme with a ledger that this test alone goes on writing."""
    return replace(first[0], log=copy.deepcopy(first[0].log))


@pytest.fixture(scope="session")
def pairs(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Key files of signers by name, each made once."""
    place = tmp_path_factory.mktemp("pairs")

    def made(name: str) -> Path:
        path = place / f"{name}.pem"
        return path if path.exists() else write_pair(path, name)

    return made


@pytest.fixture
def hollis(pairs: Callable[[str], Path], programme: Programme) -> Hand:
    """The key of the employer's responsible person."""
    return read_hand(pairs("Hollis Wren"), programme.keys)


@pytest.fixture
def certified(programme: Programme, issued: Issued, hollis: Hand, tmp_path: Path) -> Path:
    """The record's file with the employer's signature on it."""
    signing = Signing("hollis", SIGNED_AT.date(), SIGNED_AT, hand=hollis)
    done = certify_record(issued.number, programme, signing, out=tmp_path)
    assert done.path is not None
    return done.path
