"""Faces with a photograph's reading that raises walls, or none."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from lapwright.core.acts import Act
from lapwright.core.bodies import reading_of
from lapwright.core.evidence import Face
from lapwright.core.times import parse_instant

DAY = date(2026, 3, 12)


def face_with(id_: str, *, raised: tuple[Mapping[str, str], ...] = (), erosion: str = "") -> Face:
    body = {"face": id_, "reader": "teal", "way": "photo", "share": "0.04"}
    if raised:
        body["walls"] = [dict(r) for r in raised]
    act = Act("FaceRead", body, DAY, "teal", parse_instant("2026-03-12T18:00:00+00:00"))
    return Face(id_, "J", "1200", "no", "10", DAY, readings=(reading_of(act),), erosion=erosion)
