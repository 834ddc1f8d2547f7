"""Files of an invented acceptance: Quillon Pipeworks tested, Tamarack Ledge would accept."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import yaml
from PIL import Image

from lapwright.rules.rulebook import load_edition

EDITIONS = ("asme-bpvc-ix 2023", "nfpa-99 2018")
NUMBER = "000-12-3456"


def paper_document() -> dict[str, Any]:
    """Return a whole test record as typed."""
    return {
        "schema": "lapwright-paper/1",
        "paper": "W-17",
        "document": "test-record",
        "person": "wren",
        "mark": "WR5",
        "employer": "Quillon Pipeworks",
        "number": "QP-BPQ-17",
        "brazed": ["2024-11-18"],
        "tested": "2024-11-20",
        "signed": "2024-11-22",
        "signed_for_employer": "yes",
        "codes": ["asme-bpvc-ix 2023"],
        "procedure": {"bps": "QP-BPS-4", "revision": "2"},
        "variables": {
            "process": "TB",
            "manner": "manual",
            "joint_type": "socket",
            "p_numbers": ["107", "107"],
            "f_number": "103",
            "filler": "BCuP-5",
            "form": "rod",
            "flux": "none",
            "positions": ["C", "D"],
            "tube": {"standard": "ASTM B819", "type": "L", "size": "1-1/2"},
            "tube_wall": "0.060 in",
            "fitting_wall": "0.048 in",
            "overlap": "0.36 in",
            "clearance": "0.001 in to 0.010 in",
            "cleaning": "non-abrasive pad",
            "purge_gas": "oil-free dry nitrogen NF",
            "purge_flow": "12 ft3/h",
        },
        "results": {"visual": "passed", "section": "passed", "oxide": "none"},
        "provenance": {"way": "brazer", "received": "2025-04-14"},
        "typed": {"by": "hollis", "on": "2025-04-15"},
        "scan": {"masks": [{"page": "1", "x": "20", "y": "30", "w": "100", "h": "20"}]},
        "remark": f"card no {NUMBER} seen",
    }


def procedure_document() -> dict[str, Any]:
    """Return the new employer's procedure with its basis, every rule confirmed by its own lead."""
    return {
        "schema": "lapwright-procedure/1",
        "employer": "Tamarack Ledge Hospital",
        "written": {"on": "2025-04-20", "by": "marlow"},
        "people": {"marlow": {"name": "Marlow Finch", "role": "employer's responsible person"}},
        "basis": {
            "adopted_on": "2025-01-10",
            "adopted_by": "marlow",
            "editions": list(EDITIONS),
            "decision_rule": "second-reading",
            "booklet": "ticks.yaml",
        },
        "procedure": {
            "bps": "TLH-BPS-1",
            "revision": "1",
            "process": "TB",
            "manner": "manual",
            "joint_type": "socket",
            "flux": "none",
            "positions": ["B", "C", "D"],
            "signed": {"by": "marlow", "on": "2025-02-01"},
            "clearance": {"low": "0.001 in", "high": "0.010 in"},
            "topics": {
                "cleaning": "non-abrasive pad",
                "purge-gas": "oil-free dry nitrogen NF",
                "purge-flow": "12 ft3/h",
            },
            "pqr": [
                {
                    "id": "TLH-PQR-1",
                    "overlap": "0.30 in",
                    "tube_wall": "0.060 in",
                    "fitting_wall": "0.048 in",
                    "p_numbers": ["107", "107"],
                    "f_number": "103",
                    "form": "rod",
                    "flux": "none",
                    "positions": ["C", "D"],
                }
            ],
        },
    }


def note_document() -> dict[str, Any]:
    """Return the note of the new employer's signer: the employer that tested has confirmed."""
    return {
        "schema": "lapwright-acceptance/1",
        "by": "marlow",
        "on": "2025-05-01",
        "confirmed": {"on": "2025-04-29", "how": "letter, our file QP-7"},
    }


def written(path: Path, document: object) -> Path:
    """Write a YAML file; every scalar stays text."""
    path.write_text(yaml.safe_dump(document, sort_keys=False, allow_unicode=True), "utf-8")
    return path


def ticks(folder: Path) -> Path:
    """Write a booklet in which every figure of the editions is confirmed."""
    rows = [
        {"rule": dated[-1].key, "figure": dated[-1].figure, "copy": "own copy of the hospital"}
        for name in EDITIONS
        for dated in load_edition(*name.split()).rules.values()
        if dated[-1].value is not None
    ]
    book = {
        "schema": "lapwright-booklet/1",
        "confirmed_by": "marlow",
        "confirmed_on": "2025-01-12",
        "ticks": rows,
    }
    return written(folder / "ticks.yaml", book)


def scan(folder: Path, shade: int = 200, name: str = "scan.png") -> Path:
    """Write a picture that stands for a scan."""
    held = io.BytesIO()
    Image.new("RGB", (240, 160), (shade, shade, shade)).save(held, "PNG")
    path = folder / name
    path.write_bytes(held.getvalue())
    return path
