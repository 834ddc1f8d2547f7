"""Write a small invented ledger as an export of the present format, to be loaded for ever.

``python scripts/golden_export.py OUT.zip OUT-trust.pem``. Run once when a format is
released; what it wrote is kept in ``tests/records`` and never written again. The
keys are made for it and thrown away.
"""

from __future__ import annotations

import sys
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

from lapwright.core.acts import Act, commitment
from lapwright.ledger.files import FileStore
from lapwright.ledger.heads import sign_head
from lapwright.ledger.keys import Keys, open_keys
from lapwright.ledger.log import Log, MemoryLog
from lapwright.ledger.tree import tree_head
from lapwright.ledger.trust import trust_pem
from lapwright.services.ledgerexport import export_ledger

AT = datetime(2026, 3, 13, 7, 30, tzinfo=UTC)
SALT = b"an invented salt of 30 bytes.."
NAME = "Ínes Marlowe-Ørsted"


@dataclass
class Ledger:
    """A ledger in memory with its files in a folder."""

    data: Path
    log: Log = field(default_factory=MemoryLog)

    @property
    def files(self) -> FileStore:
        """The files of the ledger."""
        return FileStore(self.data / "files")


def acts(files: FileStore) -> Iterator[Act]:
    """Yield one act of each shape that the first release can write."""
    day, lead = date(2026, 3, 4), "lead"
    named = {"person": "ines", "name_commitment": commitment(NAME, SALT), "role": "brazer"}
    yield Act("PersonEnrolled", named, day, lead, AT, stream="programme")
    read = {"face": "H1-1", "reader": "omar", "way": "loupe", "segments": [{"from": "0.1 mm"}]}
    yield Act("FaceRead", read, day, lead, AT, files=(files.put(b"an invented photograph"),))
    at = datetime.fromisoformat("2026-03-04T14:30:00-06:00")
    brazed = {"coupon": "H", "tube": "3/4", "filler": "invented", "fitting": "coupling 1×1"}
    yield Act("CouponBrazed", brazed, day, lead, AT, happened_at=at, stream="case/TLH-01")
    # the first shape of this act, and a key that no release knows
    yield Act("MethodChecked", {"method": "face-trace/1", "later": {"x": ["y"]}}, day, lead, AT)
    told = {"person": "ines", "what": "“quoted” \\ 練習\n", "by": "omar"}
    trained = Act("TrainingGiven", told, day, lead, AT, stream="case/TLH-01")
    yield trained
    voided = {"voids": trained.sha256, "reason": "filed twice"}
    yield Act("ActVoided", voided, day, lead, AT, stream="case/TLH-01")


def _keys(folder: Path) -> Keys:
    return open_keys(folder / "keys", made_at=AT, holder="Tamarack Ledge programme")


def main(out: Path, trust: Path) -> None:
    """Write the zip of the export, and the trust file beside it."""
    with tempfile.TemporaryDirectory() as made:
        place = Path(made)
        ledger, keys = Ledger(place / "data"), _keys(place)
        ledger.log.append(list(acts(ledger.files)))
        ledger.log.put_side(commitment(NAME, SALT), NAME, SALT)
        early = [entry.raw for entry in ledger.log.entries()][:3]
        ledger.log.put_head(sign_head(tree_head(early), keys.token_key, at=AT))
        export_ledger(place / "out", ledger, keys=keys, at=AT, names="yes")
        with zipfile.ZipFile(out, "x", zipfile.ZIP_DEFLATED) as packed:
            for path in sorted((place / "out").rglob("*")):
                packed.write(path, path.relative_to(place / "out").as_posix())
        trust.write_bytes(trust_pem(keys.trust))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
