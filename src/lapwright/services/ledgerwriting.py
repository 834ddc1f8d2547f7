"""Write acts into the ledger: what was written later never bears an earlier moment.

What was known by a day is told from the moment at which an entry was written. A
machine whose clock was set back, or a command that began before another one
wrote, would put an entry behind one of a later moment, and the answer about a day
that is over would change. So an act takes the moment of the entry before it where its
own lies earlier. The civil day on which it happened stays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime

from lapwright.core.acts import Act
from lapwright.ledger.log import Entry, Log

_TRIES = 20  # how often somebody else may be quicker, with a clock that is ahead


class _Behind(Exception):
    """Somebody else has written meanwhile, and bears a later moment."""


def write(
    log: Log,
    acts: Iterable[Act],
    *,
    expect: Mapping[str, int] | None = None,
    first: Callable[[], None] = lambda: None,
) -> tuple[Entry, ...]:
    """Append all acts, or none, none of them earlier than the entry before it.

    Parameters
    ----------
    log : Log
        The ledger.
    acts : iterable of Act
        In order.
    expect : mapping, optional
        Stream to the number of entries that the writer has seen in it.
    first : callable, optional
        Called once when it is our turn to write, before anything is written.

    Raises
    ------
    StreamMoved
        If a stream holds more or fewer entries than expected; nothing is written.
    """
    given = tuple(acts)
    for _ in range(_TRIES - 1):
        with suppress(_Behind):
            return _try_to_write(log, given, expect, first)
    return _try_to_write(log, given, expect, first)


def _try_to_write(
    log: Log,
    given: Sequence[Act],
    expect: Mapping[str, int] | None,
    first: Callable[[], None],
) -> tuple[Entry, ...]:
    made = _not_before(given, last_moment(log))

    def in_turn() -> None:
        last = last_moment(log)
        if made and last is not None and made[0].recorded_at < last:
            raise _Behind
        first()

    return log.append(made, expect=expect, first=in_turn)


def _not_before(acts: Sequence[Act], last: datetime | None) -> list[Act]:
    made = []
    for act in acts:
        last = act.recorded_at if last is None else max(last, act.recorded_at)
        made.append(act if act.recorded_at == last else replace(act, recorded_at=last))
    return made


def last_moment(log: Log) -> datetime | None:
    """Return when the last entry was written, or None for an empty ledger.

    Parameters
    ----------
    log : Log
        The ledger.
    """
    latest = next(log.entries(since=max(log.size() - 1, 0)), None)
    return latest.act.recorded_at if latest is not None else None
