"""Tests reach no network, and what ships is complete."""

from __future__ import annotations

import socket
import tomllib
from collections.abc import Iterable
from pathlib import PurePosixPath

import pytest
from pytest_socket import SocketBlockedError

from repo.tree import ROOT, all_files, told

PACKAGE = "src/lapwright/"


def shipped_suffixes() -> set[str]:
    """Return the suffixes that the package data of ``pyproject.toml`` names."""
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = settings["tool"]["setuptools"]["package-data"]["lapwright"]
    return {PurePosixPath(p).suffix or "." + p.rsplit(".", 1)[-1] for p in patterns}


def left_behind(paths: Iterable[str], suffixes: set[str]) -> list[str]:
    """Return package files that an installed copy would lack."""
    return [path for path in paths if PurePosixPath(path).suffix not in suffixes | {".py"}]


def folders_without_init(paths: Iterable[str]) -> list[str]:
    """Return folders of modules that are no packages."""
    files = set(paths)
    folders = {str(PurePosixPath(path).parent) for path in files if path.endswith(".py")}
    return sorted(folder for folder in folders if f"{folder}/__init__.py" not in files)


def package_files() -> list[str]:
    """Return every file below the package."""
    return [path for path in all_files() if path.startswith(PACKAGE)]


def test_a_test_cannot_open_a_connection() -> None:
    with pytest.raises(SocketBlockedError):
        socket.create_connection(("127.0.0.1", 9))


def test_every_file_of_the_package_is_shipped() -> None:
    offenders = left_behind(package_files(), shipped_suffixes())
    assert not offenders, told(offenders, "Name these in the package data of pyproject.toml:")


def test_every_folder_of_modules_is_a_package() -> None:
    offenders = folders_without_init(package_files())
    assert not offenders, told(offenders, "Give these folders an __init__.py:")


def test_the_shipping_checks_find_what_would_be_missing() -> None:
    assert left_behind(["a/b.py", "a/c.bin", "a/d.csv"], {".csv"}) == ["a/c.bin"]
    assert folders_without_init(["a/__init__.py", "a/b/c.py", "a/d.csv"]) == ["a/b"]
