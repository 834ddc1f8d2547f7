"""The page of the command line says what the commands say."""

from __future__ import annotations

import re
from types import ModuleType

import click
import pytest

from repo.scripts import script
from repo.tree import told


@pytest.fixture(scope="module")
def writer() -> ModuleType:
    """Return the script that writes the page."""
    return script("cli_reference")


def sections(page: str) -> dict[str, str]:
    """Return command -> section of a page."""
    parts = re.split(r"^## `(.+)`$", page, flags=re.MULTILINE)
    return {name: text.strip() for name, text in zip(parts[1::2], parts[2::2], strict=True)}


def drift(wanted: dict[str, str], written: dict[str, str]) -> list[str]:
    """Return commands that are missing, changed or gone."""
    missing = [f"{name}: not on the page" for name in wanted if name not in written]
    gone = [f"{name}: no such command" for name in written if name not in wanted]
    shared = wanted.keys() & written.keys()
    changed = [
        f"{name}: help has changed" for name in sorted(shared) if wanted[name] != written[name]
    ]
    return missing + gone + changed


def test_every_command_is_documented_as_it_is(writer: ModuleType) -> None:
    written = sections(writer.PAGE.read_text(encoding="utf-8"))
    offenders = drift(sections(writer.page()), written)
    assert not offenders, told(offenders, "Run python scripts/cli_reference.py:")


def test_every_command_has_a_help_text(writer: ModuleType) -> None:
    root = writer.root_command()
    found = [] if root is None else list(writer.commands(root, "lapwright"))
    offenders = [path for path, context in found if not context.command.help]
    assert not offenders, told(offenders, "Say what these commands do:")


def test_the_drift_check_finds_missing_changed_and_dead_commands(writer: ModuleType) -> None:
    @click.group(help="All.")
    def top() -> None: ...

    @top.command(help="One.")
    def one() -> None: ...

    page = "\n".join(writer.section(*found) for found in writer.commands(top, "lw"))
    wanted = sections(page)
    assert list(wanted) == ["lw", "lw one"]
    assert drift(wanted, {"lw": wanted["lw"] + " more", "lw two": ""}) == [
        "lw one: not on the page",
        "lw two: no such command",
        "lw: help has changed",
    ]
