"""The comparison that an acceptance of the invented record rests on, as its JSON."""

from __future__ import annotations

import json
from typing import Any

LATER_EMPLOYER = "Harrow Fold Mechanical"


def comparison(**changes: object) -> bytes:
    """Return a comparison for Harrow Fold Mechanical, signed on 25 March, with changes."""
    document: dict[str, Any] = {
        "schema": "lapwright-comparison/1",
        "record": "TST-01",
        "person": "ines",
        "former": {"employer": "Quillon Pipeworks", "procedure": "QP-BPS-4"},
        "present": {"employer": LATER_EMPLOYER, "procedure": "HF-BPS-1"},
        "signed_on": "2026-03-25",
        "acceptance": {"outcome": "met"},
    }
    return json.dumps(document | changes).encode()
