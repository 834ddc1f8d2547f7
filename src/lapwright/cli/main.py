"""Entry point of the ``lapwright`` command.

Commands live in sibling modules and are imported only when asked for, so that
``lapwright --help`` stays quick. Refusals print one coded line on stderr, with
``--json`` one JSON document on stdout as well, and exit 1; usage errors exit 2.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence

import click

from lapwright import __version__
from lapwright.core.errors import LapwrightError

COMMANDS = {
    "demo": ("lapwright.cli.demo", "Write an invented programme, judge it, issue its records."),
    "judge": ("lapwright.cli.cases", "Judge a case folder; writes nothing to it."),
    "issue": ("lapwright.cli.cases", "Issue the signed record of a case folder."),
    "record": ("lapwright.cli.record", "Certify, accept, withdraw, list and show records."),
    "range": ("lapwright.cli.cases", "What a case or a record covers, each with its reason."),
    "in-force": ("lapwright.cli.inforce", "Who is in force on a day, until when, carried by what."),
    "joints": ("lapwright.cli.joints", "The joints of a job: read a list, bad rows told."),
    "cover": ("lapwright.cli.cover", "Who may braze which joints of a job on a day."),
    "use": ("lapwright.cli.use", "Uses that keep qualifications in force: attest."),
    "face": ("lapwright.cli.face", "Read one prepared face from a photograph."),
    "peel": ("lapwright.cli.peel", "Read a peeled lap surface from a photograph and a mask."),
    "readers": ("lapwright.cli.readers", "How far readers, and the program, agree on faces."),
    "card": ("lapwright.cli.card", "Print scale cards; take the scale of an instrument."),
    "rules": ("lapwright.cli.rules", "The rules: list, show, sources, booklet."),
    "paper": ("lapwright.cli.paper", "Records made elsewhere: enter, check, list, show, compare."),
    "instruments": ("lapwright.cli.instruments", "Instruments: list, file, doubt, clear."),
    "credentials": ("lapwright.cli.credentials", "Credentials of people: list, note."),
    "ledger": (
        "lapwright.cli.ledger",
        "The ledger: show, correct, export, import, prove, back up.",
    ),
    "verify": ("lapwright.cli.verify", "Check a record offline and say what holds."),
}


ATTRIBUTES = {"range": "range_", "in-force": "in_force"}


class Lazy(click.Group):
    """A group that knows its commands by name and imports them when used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the command names in the order of the street."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Return a command, imported now."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(COMMANDS[cmd_name][0])
        command: click.Command = getattr(module, ATTRIBUTES.get(cmd_name, cmd_name))
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands from their one-line help, without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.group(cls=Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="lapwright")
def cli() -> None:
    """Brazer performance qualification for medical-gas copper piping.

    Brazing medical-gas lines can kill. The adopted codes, the authority having
    jurisdiction and licensed practice govern; this tool certifies no one.
    """


_STOPPED = (
    "Interrupted; no file is half-written. What was filed stays, such as a number taken: give "
    "the same command again to complete it."
)


def main(args: list[str] | None = None) -> None:
    """Run the command; turn refusals into one coded line, with ``--json`` a document too."""
    try:
        cli.main(args=args, prog_name="lapwright", standalone_mode=False)
    except LapwrightError as refusal:
        _refuse(refusal, sys.argv[1:] if args is None else args)
        sys.exit(1)
    except click.ClickException as usage:
        usage.show()
        sys.exit(usage.exit_code)
    except (click.exceptions.Abort, KeyboardInterrupt):
        click.echo(_STOPPED, err=True)
        sys.exit(1)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)


def _refuse(refusal: LapwrightError, args: Sequence[str]) -> None:
    """Print a refusal as one coded line, and as one JSON document where JSON was asked for."""
    click.echo(str(refusal), err=True)
    if "--json" in args:
        from .common import print_json

        print_json({"outcome": "refused", **refusal.as_dict()})
