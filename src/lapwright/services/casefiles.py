"""Files of a case folder, read once, named by SHA-256."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import CaseFileRefused

if TYPE_CHECKING:
    from lapwright.measure.values import FaceMeasurement

MAX_BYTES = 120 * 1024 * 1024


@dataclass
class CaseFiles:
    """Reads files inside one folder and remembers them by digest.

    ``measured`` keeps, by face id, the digest and the measurement of the first
    photograph that was read, for the overlay of a record.
    """

    folder: Path
    kept: dict[str, tuple[str, bytes]] = field(default_factory=dict)
    measured: dict[str, tuple[str, FaceMeasurement]] = field(default_factory=dict)

    def read(self, name: str, *, where: str) -> tuple[str, bytes]:
        """Return SHA-256 and bytes of a file inside the folder.

        Raises
        ------
        CaseFileRefused
            If it is missing, outside the folder (also through a link), not a
            file, or over 120 MiB.
        """
        path = (self.folder / name).resolve()
        inside = path.is_relative_to(self.folder.resolve())
        if not inside or not path.is_file():
            raise CaseFileRefused(
                "no such file in the case folder",
                got=name,
                where=where,
                expected="a file below the folder",
                do="Copy the file into the folder, or correct its name.",
            )
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise CaseFileRefused(
                "a file too large to file",
                got=f"{size} bytes",
                where=where,
                expected=f"at most {MAX_BYTES} bytes",
                do="Save the photograph as JPEG.",
            )
        try:
            data = path.read_bytes()
        except OSError as fault:
            raise CaseFileRefused(
                "a file that cannot be read",
                got=str(fault.strerror),
                where=where,
                expected="a readable file",
                do="Check its permissions.",
            ) from fault
        digest = hashlib.sha256(data).hexdigest()
        self.kept[digest] = (name, data)
        return digest, data
