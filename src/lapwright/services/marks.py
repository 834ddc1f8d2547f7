"""One brazer mark belongs to one person, in every case of the programme.

NFPA 99 asks that joints can be told apart by brazer (rule ``mark.unique``). Two people
with one mark could not be told apart on a joint, nor by the numbers of their records.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from lapwright.core.standing import standing
from lapwright.ledger.log import Log

from .casefolder import LoadedCase
from .errors import MarkTaken


def must_be_own(case: LoadedCase, log: Log) -> None:
    """Refuse a case whose mark stands for another person in some other case.

    Parameters
    ----------
    case : LoadedCase
        The case to file.
    log : Log
        The ledger.

    Raises
    ------
    MarkTaken
    """
    given = case.document["brazer"]
    for stream, person in _holders(log, given["mark"]):
        if person != given["person"] and stream != f"case/{case.id}":
            raise MarkTaken(
                "a brazer mark that belongs to another person of the programme",
                got=given["mark"],
                where=f"{case.id}: brazer.mark",
                expected=f"a mark of its own; {person} has this one, in {stream}",
                do="Give this brazer another mark; if the other case is wrong, correct it first.",
            )


def _holders(log: Log, mark: str) -> Iterator[tuple[str, str]]:
    """Yield stream and person of every case in which the mark stands."""
    for stream in dict.fromkeys(e.stream for e in log.about(f"mark:{mark}")):
        acts = (e.act for e in log.entries(stream=stream))
        for found in standing(acts, as_of=date.max):
            body = found.act.body
            if found.act.type == "SessionOpened" and body["mark"] == mark:
                yield stream, body["brazer"]
