"""Drawn tables of readings for the readers command."""

from __future__ import annotations

import csv
import io

import numpy as np

COLUMNS = ["face", "reader", "reading", "share", "date", "way", "low", "high", "method", "refused"]
METHOD = "drawn/1"


def table(
    faces: int, *, readers: tuple[str, ...] = ("teal", "brindle"), shift: float = 0.0
) -> list[dict[str, str]]:
    """Draw loupe readings by readers, twice each, and one reading by the program."""
    rng = np.random.default_rng(7)
    rows = []
    for n in range(faces):
        truth = rng.uniform(0.03, 0.35)
        face, day = f"F{n + 1}", f"2026-02-{n % 27 + 1:02}"
        rows += [
            {"face": face, "reader": who, "reading": str(k), "way": "loupe", "date": day}
            | {"share": f"{truth + rng.normal(0, 0.004):.4f}"}
            for who in readers
            for k in (1, 2)
        ]
        share = truth + shift + rng.normal(0, 0.005)
        rows.append(
            {"face": face, "reader": "program", "reading": "1", "way": "program", "date": day}
            | {"share": f"{100 * share:.2f} %", "low": f"{share - 0.02:.5f}"}
            | {"high": f"{share + 0.02:.5f}", "method": METHOD}
        )
    return rows


def sloped(faces: int) -> list[dict[str, str]]:
    """Draw faces of small shares on which the program reads 8 % of the share too much."""
    rows = table(faces)
    for r in rows:
        number = float(r["share"].rstrip(" %")) / (100 if "%" in r["share"] else 1)
        if r["way"] == "program":
            number *= 1.08
        r.update(share=f"{0.55 * number:.5f}", low="", high="")
    return rows


def written(rows: list[dict[str, str]], columns: list[str] = COLUMNS) -> bytes:
    """Return rows as the bytes of a CSV."""
    text = io.StringIO()
    out = csv.DictWriter(text, columns, restval="", extrasaction="ignore")
    out.writeheader()
    out.writerows(rows)
    return text.getvalue().encode()
