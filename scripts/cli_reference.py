"""Write ``docs/reference/cli.md`` from the help texts of the command line.

``python scripts/cli_reference.py`` writes the page; a repository test fails when
the page and the commands have drifted apart.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Iterator
from pathlib import Path

import click

PAGE = Path(__file__).resolve().parents[1] / "docs" / "reference" / "cli.md"
WIDTH = 92
INTRO = """# Command line

<!-- Written by scripts/cli_reference.py: change the help texts, then run it again. -->

A command answers with exit status 0. It exits with 1 when it refuses or when a check
fails, with one coded line on standard error ([](errors.md)), and with 2 when the command
line itself is wrong. `--json` prints one JSON document on standard output; everything
else goes to standard error. Commands that judge name the day they judge for: `--as-of`.
"""


def root_command() -> click.Command | None:
    """Return the command line's entry, or None when the tree has none yet."""
    if importlib.util.find_spec("lapwright.cli.main") is None:
        return None
    module = importlib.import_module("lapwright.cli.main")
    found = [module.main, *vars(module).values()]
    return next((value for value in found if isinstance(value, click.Command)), None)


def commands(
    command: click.Command, path: str, names: tuple[str, ...] = ()
) -> Iterator[tuple[str, click.Context]]:
    """Yield every command with its full name, parents before children.

    ``names`` are the root's help options, as a real call hands them down; click
    keeps a command's help option once made, so they must not depend on the order.
    """
    names = names or tuple(command.context_settings.get("help_option_names", ("--help",)))
    context = click.Context(
        command,
        info_name=path,
        max_content_width=WIDTH,
        terminal_width=WIDTH,
        help_option_names=list(names),
    )
    yield path, context
    if isinstance(command, click.Group):
        for name in command.list_commands(context):
            child = command.get_command(context, name)
            if child is not None and not child.hidden:
                yield from commands(child, f"{path} {name}", names)


def section(path: str, context: click.Context) -> str:
    """Return the heading and the help text of one command."""
    return f"## `{path}`\n\n```text\n{context.get_help().rstrip()}\n```\n"


def page() -> str:
    """Return the whole page."""
    root = root_command()
    parts = [] if root is None else [section(*found) for found in commands(root, "lapwright")]
    return "\n".join([INTRO, *parts])


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    print(f"wrote {PAGE.name}")
