"""Drawn photographs in folders, and the command as a person runs it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import pytest

from lapwright.measure.synthetic import DrawnFace, draw_demo_face
from lapwright.services.batch import BatchResult, Step, Way, run_batch

VOIDS = ((0.12, 0.2, "open"), (0.5, 0.55, "open"))


@pytest.fixture(scope="session")
def faces() -> list[DrawnFace]:
    """Four tidy faces, all different."""
    return [draw_demo_face(VOIDS, seed=seed, width_px=1100) for seed in (11, 12, 13, 14)]


@pytest.fixture(scope="session")
def pictures(faces: list[DrawnFace]) -> list[bytes]:
    """The faces as JPEG files."""
    return [bytes(cv2.imencode(".jpg", face.pixels)[1]) for face in faces]


def sidecar(face: DrawnFace, **more: object) -> str:
    """Return a sidecar's text with the ends of a face."""
    keys = {
        "tube_end": "[{:.2f}, {:.2f}]".format(*face.tube_end),
        "cup_face": "[{:.2f}, {:.2f}]".format(*face.cup_face),
    } | more
    return "".join(f"{key}: {value}\n" for key, value in keys.items())


@pytest.fixture
def folder(tmp_path: Path, faces: list[DrawnFace], pictures: list[bytes]) -> Path:
    """Three photographs with sidecars of both kinds."""
    place = tmp_path / "photos"
    place.mkdir()
    for name, face, picture in zip(("a.jpg", "b.jpg", "c.jpg"), faces, pictures, strict=False):
        (place / name).write_bytes(picture)
        if name != "c.jpg":
            (place / f"{name}.face.yaml").write_text(sidecar(face, id=f"F-{name[0]}"))
    text = sidecar(faces[2], px_per_mm="80", px_per_mm_u="0.4").replace("\n", "\n  ")
    (place / "faces.yaml").write_text(f"c.jpg:\n  {text.strip()}\n")
    return place


class Runs:
    """Runs a batch and remembers what was told."""

    def __init__(self) -> None:
        self.steps: list[Step] = []

    def __call__(self, what: Path | str, out: Path, **way: Any) -> BatchResult:
        self.steps = []
        told = self.steps.append
        return run_batch(str(what), out, way=Way(**({"workers": 2} | way)), told=told)


@pytest.fixture
def batch() -> Runs:
    return Runs()


def lines(out: Path) -> list[dict[str, Any]]:
    """Return the documents of ``faces.jsonl``."""
    return [json.loads(raw) for raw in (out / "faces.jsonl").read_bytes().splitlines()]


def codes(out: Path) -> dict[str, str]:
    """Return photograph -> code, by file name."""
    return {Path(line["photo"]).name: line["code"] for line in lines(out)}


def command(*args: object) -> list[str]:
    return [sys.executable, "-m", "lapwright", *map(str, args)]


@pytest.fixture
def shell() -> Callable[..., subprocess.CompletedProcess[str]]:
    def run(*args: object, **environment: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            command(*args),
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
            env=os.environ | environment,
        )

    return run
