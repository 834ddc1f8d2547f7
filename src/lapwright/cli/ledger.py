"""``lapwright ledger``: show, mend, write out, take in, prove, back up, restore, rebuild."""

from __future__ import annotations

import functools
import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

import click

from .common import (
    Day,
    F,
    asked_options,
    data_folder,
    data_option,
    json_option,
    now,
    opened,
    print_json,
    progress,
    today,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    from lapwright.desk.boot import Store
    from lapwright.ledger.keys import Keys
    from lapwright.ledger.trust import Trust

OUT = click.argument("out", type=click.Path(path_type=Path))
SOURCE = click.argument("source", type=click.Path(path_type=Path))
ENTRY = click.argument("entry")
BY = click.option("--by", required=True, metavar="PERSON", help="Who does it: the person's id.")
REASON = click.option("--reason", required=True, help="Why, in one sentence, without names.")
database_option = click.option(
    "--database",
    envvar="LAPWRIGHT_DATABASE",
    default="",
    metavar="URL",
    help="Address of a PostgreSQL database [default: $LAPWRIGHT_DATABASE, else a file in the "
    "data folder].",
)
trust_option = click.option(
    "--trust",
    type=click.Path(path_type=Path, dir_okay=False),
    default=None,
    help="trust.pem of the programme that wrote it, got by another way.",
)


class Report(Protocol):
    """What a service answers."""

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON document."""

    def lines(self) -> Iterable[str]:
        """Yield lines for a terminal."""


def ledger_options(function: F) -> F:
    """Add ``--data``, ``--database`` and ``--json``."""
    return data_option(database_option(json_option(function)))


@click.group()
def ledger() -> None:
    """The ledger: show and mend entries, write it out, take it in, prove, back up, restore.

    Every entry is chained to the one before it. Who holds both the database and the
    keys could still write all of it anew: what speaks against that are the tree heads
    printed on records, in other people's hands.
    """


@ledger.command("export")
@OUT
@click.option("--with-names", is_flag=True, help="Write names and other personal values too.")
@ledger_options
def export_(out: Path, with_names: bool, data: Path | None, database: str, as_json: bool) -> None:
    """Write the whole ledger to a new folder that checks itself with Python alone.

    Names beside the entries are written only if asked for. Records and scans among the
    files are copied as they are and may show names.
    """
    from lapwright.services.ledgerexport import export_ledger

    store, keys = _store(data, database), _keys(data)
    names = "yes" if with_names else "no"
    _tell(export_ledger(out, store, keys=keys, at=now(), names=names, tell=progress), as_json)


@ledger.command("import")
@SOURCE
@trust_option
@ledger_options
def import_(
    source: Path, trust: Path | None, data: Path | None, database: str, as_json: bool
) -> None:
    """Take an export into an empty ledger, or file a case folder.

    An export is checked first. A case folder's entries are filed each once, and the tree
    head over all entries is signed; filing the same folder again changes nothing.
    """
    from lapwright.services.ledgerimport import import_ledger

    opener = functools.partial(opened, data_folder(data), database=database)
    if (source / "case.yaml").is_file():
        from lapwright.services.caseimport import import_case
        from lapwright.services.programme import Programme

        store, keys = opener(), _keys(data)
        programme = Programme(store.log, store.files, keys)
        _tell(import_case(source, programme, at=now(), progress=progress), as_json)
        return
    _tell(import_ledger(source, opener, trust=_trust(trust), tell=progress), as_json)


@ledger.command()
@click.option("--entry", type=click.IntRange(min=0), help="Number of the entry, from 0.")
@click.option("--act", default="", metavar="SHA256", help="SHA-256 of the entry's act.")
@click.option(
    "--from-size",
    type=click.IntRange(min=1),
    help="Size of an earlier tree head, such as a record prints, that the ledger continues.",
)
@click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), help="File to write (.json)."
)
@ledger_options
def prove(
    entry: int | None,
    act: str,
    from_size: int | None,
    out: Path | None,
    data: Path | None,
    database: str,
    as_json: bool,
) -> None:
    """Sign the present tree head; prove an entry, or that the ledger only grew.

    Without --entry, --act and --from-size it signs and prints the head alone.
    """
    from lapwright.services.atomic import write_new
    from lapwright.services.ledgerproofs import Asked, prove

    if entry is not None and act:
        raise click.UsageError("--entry and --act name the same thing: give one of them")
    store, asked = _store(data, database), Asked(entry, act, from_size)
    proof = prove(store.log, asked=asked, keys=_keys(data), at=now(), tell=progress)
    if out is not None:
        write_new(out, proof.to_bytes(), suffix=".json")
    if as_json:
        print_json(proof.document)
    else:
        _print(proof.lines(out))


@ledger.command()
@ledger_options
def rebuild(data: Path | None, database: str, as_json: bool) -> None:
    """Make everything that is computed from the entries anew, and compare.

    First the chain and the signed tree heads are checked: nothing is computed from a
    ledger that was changed. Files that no entry names are deleted after a day: they are
    of a writer who was cut off.
    """
    from lapwright.ledger.held import check_whole
    from lapwright.services.orphans import sweep_orphans

    store = _store(data, database)
    check_whole(store.log, public=_token_key(data))
    before = store.compare()
    rows = store.rebuild()
    after = store.compare()
    swept = sweep_orphans(store.log, store.files, at=now())
    told = {"entries": str(after.acts), "rows": str(rows), "was": before.same, "is": after.same}
    told["swept"] = str(len(swept))
    if as_json:
        print_json(told)
    else:
        from lapwright.services.text import word

        click.echo(word("ledger.rebuilt", entries=told["entries"], rows=told["rows"]))
        was = "same" if before.same == "yes" else "other"
        click.echo(word(f"ledger.rebuilt.{was}"))
        if after.same == "no":
            click.echo(word("ledger.rebuilt.columns"))
        if swept:
            click.echo(word("ledger.rebuilt.swept", count=told["swept"]))
    raise SystemExit(0 if after.same == "yes" else 1)


@ledger.command()
@OUT
@click.option(
    "--with-keys",
    is_flag=True,
    help="Copy the key folder too, as it lies. Whoever can open these keys can sign.",
)
@ledger_options
def backup(out: Path, with_keys: bool, data: Path | None, database: str, as_json: bool) -> None:
    """Back up the ledger with names to a new folder, while it is in use.

    A backup is a complete export: it checks itself, and 'ledger restore' puts it back.
    """
    from lapwright.services.ledgerexport import back_up

    store, keys = _store(data, database), _keys(data)
    wanted = "yes" if with_keys else "no"
    _tell(back_up(out, store, keys=keys, at=now(), with_keys=wanted, tell=progress), as_json)


@ledger.command()
@SOURCE
@click.option(
    "--drill", "only_drill", is_flag=True, help="Only try: restore, read back, report, delete."
)
@trust_option
@ledger_options
def restore(
    source: Path,
    only_drill: bool,
    trust: Path | None,
    data: Path | None,
    database: str,
    as_json: bool,
) -> None:
    """Put a backup back into a new data folder, or try it with --drill.

    Everything is checked before and read back after; then the folder gets its name.
    """
    from lapwright.services.ledgerimport import drill, restore

    known = _trust(trust)
    if only_drill:
        _tell(drill(source, opened, trust=known, tell=progress), as_json)
        return
    opener: Callable[[Path], Store] = functools.partial(opened, database=database)
    _tell(restore(source, data_folder(data), opener, trust=known, tell=progress), as_json)


@ledger.command()
@click.option("--stream", default="", help="Only entries of this stream, such as case/TLH-01.")
@click.option(
    "--about",
    default="",
    metavar="KIND:ID",
    help="Only entries that name it, such as person:ines or instrument:CAL-2.",
)
@click.option("--entry", default="", help="One entry with all its versions: number or SHA-256.")
@asked_options
@ledger_options
def show(entry: str, data: Path | None, database: str, as_json: bool, **given: Any) -> None:
    """List entries, or show one with all its versions.

    Entries count from 0. What a removed name stood for says since when it is removed.
    """
    from lapwright.services import entrylist as use
    from lapwright.services.recordlist import Asked

    which = use.Which(given["stream"], given["about"])
    if entry and which != use.Which():
        raise click.UsageError("--entry names one entry: leave out --stream and --about")
    asked = Asked(given["as_of"] or today(), given["known_by"])
    log = _store(data, database).log
    if entry:
        document, lines = use.entry_document(log, entry, asked), use.entry_lines
    else:
        document, lines = use.entries_document(log, which, asked), use.entries_lines
    if as_json:
        print_json(document)
    else:
        _print(lines(document))


@ledger.command()
@ENTRY
@click.option(
    "--body",
    type=click.Path(path_type=Path, dir_okay=False),
    help="JSON file with the whole body as it should be.",
)
@click.option(
    "--set",
    "keys",
    multiple=True,
    metavar="KEY=VALUE",
    help="Another text for one key, such as tube.wall='0.065 in'; may be repeated.",
)
@click.option("--happened-on", type=Day(), help="The day on which it happened, if it was wrong.")
@REASON
@BY
@ledger_options
def correct(
    entry: str, data: Path | None, database: str, as_json: bool, by: str, **given: Any
) -> None:
    """Correct an entry by a new one; ENTRY is its number or the SHA-256 of its act.

    What was written stays readable. Records issued or signed, numbers, removed names and
    keys are not corrected.
    """
    from lapwright.services.mending import Change, correct_entry, read_body
    from lapwright.services.programmeacts import Writing

    if given["body"] is not None and given["keys"]:
        raise click.UsageError("give either --body or --set")
    body = read_body(given["body"]) if given["body"] is not None else None
    change = Change(body, given["keys"], given["happened_on"])
    log, writing = _store(data, database).log, Writing(by, now())
    _tell(correct_entry(log, entry, change, reason=given["reason"], writing=writing), as_json)


@ledger.command()
@ENTRY
@REASON
@BY
@ledger_options
def void(entry: str, reason: str, by: str, data: Path | None, database: str, as_json: bool) -> None:
    """Void an entry by a new one; ENTRY is its number or the SHA-256 of its act."""
    from lapwright.services.mending import void_entry
    from lapwright.services.programmeacts import Writing

    log = _store(data, database).log
    _tell(void_entry(log, entry, reason=reason, writing=Writing(by, now())), as_json)


def _store(data: Path | None, database: str) -> Store:
    """Open a ledger that is there: a misspelt folder must not become an empty one."""
    from lapwright.services.programme import must_exist

    return opened(must_exist(data_folder(data)), database=database)


def _keys(data: Path | None) -> Keys:
    """Open the keys; ``$LAPWRIGHT_PASSPHRASE`` opens locked ones."""
    from lapwright.ledger.keys import open_keys

    passphrase = os.environ.get("LAPWRIGHT_PASSPHRASE", "").encode() or None
    return open_keys(data_folder(data) / "keys", made_at=now(), passphrase=passphrase)


def _token_key(data: Path | None) -> Ed25519PublicKey | None:
    """Return the programme's token key of a data folder, where its public half is there."""
    trust = data_folder(data) / "keys" / "trust.pem"
    found = _trust(trust if trust.is_file() else None)
    return found.token_key if found else None


def _trust(trust: Path | None) -> Trust | None:
    from lapwright.services.trusting import read_trusted

    return None if trust is None else read_trusted([trust]).programmes[0]


def _tell(report: Report, as_json: bool) -> None:
    if as_json:
        print_json(report.as_dict())
    else:
        _print(report.lines())


def _print(lines: Iterable[str]) -> None:
    for line in lines:
        click.echo(line)
