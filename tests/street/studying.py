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
            | {"share": f"{share:.4f}", "low": f"{share - 0.02:.5f}"}
            | {"high": f"{share + 0.02:.5f}", "method": METHOD}
        )
    return rows


def sloped(faces: int) -> list[dict[str, str]]:
    """Draw faces of small shares on which the program reads 8 % of the share too much."""
    rows = table(faces)
    for r in rows:
        part = 1.0 if int(r["face"][1:]) % 3 == 0 else 0.4
        number = part * float(r["share"])
        if r["way"] == "program":
            number *= 1.08
            r.update(low=f"{max(0, number - 0.025):.5f}", high=f"{number + 0.025:.5f}")
        r.update(share=f"{number:.5f}")
    return rows


def written(rows: list[dict[str, str]], columns: list[str] = COLUMNS) -> bytes:
    """Return rows as the bytes of a CSV."""
    text = io.StringIO()
    out = csv.DictWriter(text, columns, restval="", extrasaction="ignore")
    out.writeheader()
    out.writerows(rows)
    return text.getvalue().encode()
