"""Read a picture's file for a command."""

from __future__ import annotations

from pathlib import Path

from .errors import CaseFileRefused


def read_picture(path: Path) -> bytes:
    """Return the bytes of a picture.

    Parameters
    ----------
    path : Path
        The file.

    Raises
    ------
    CaseFileRefused
        If it cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as fault:
        raise CaseFileRefused(
            "a picture that cannot be read",
            got=f"{path}",
            expected="a readable file",
            do=f"Correct the name ({fault.strerror}).",
        ) from fault
