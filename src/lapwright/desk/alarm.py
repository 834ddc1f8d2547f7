"""The alarm of a ledger: what an opening found changed stays told until a person deals with it.

It is a text in the ledger's folder, so that neither another start nor guards that
somebody put back take it away.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from lapwright.core.errors import LapwrightError
from lapwright.ledger.errors import HeadBeyond, HeadOther

from .errors import AlarmStands, ChainBroken, RowRefused

FILE = "alarm.txt"
_FOUND = (ChainBroken, RowRefused, HeadBeyond, HeadOther)


@contextmanager
def kept(data: Path) -> Iterator[None]:
    """Write down what is found changed inside, and raise it on.

    Parameters
    ----------
    data : Path
        Folder of the ledger; where it cannot be written the refusal stands alone.
    """
    try:
        yield
    except _FOUND as refusal:
        with suppress(OSError), (data / FILE).open("x", encoding="utf-8") as out:
            out.write(f"{_line(refusal)}\n")
        raise


def check(data: Path) -> None:
    """Refuse a ledger whose alarm stands.

    Raises
    ------
    AlarmStands
        With what was found; the date of the file says when.
    """
    path = data / FILE
    if not path.exists():
        return
    told = path.read_text("utf-8", errors="replace").strip()
    raise AlarmStands(
        "this ledger was found changed, and nobody has dealt with it",
        got=told or "an empty alarm",
        expected="no alarm",
        do=f"Keep the folder as it is and restore the latest backup elsewhere; whoever has put "
        f"the untouched database back removes {FILE}.",
        where=str(path),
    )


def _line(refusal: LapwrightError) -> str:
    return f"{refusal.what}: {refusal.got} [{refusal.code}]"
