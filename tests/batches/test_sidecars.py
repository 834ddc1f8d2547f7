"""Sidecars are followed to the letter or refused; nothing is guessed and nothing left unread."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.errors import LapwrightError
from lapwright.reference.errors import KeyTwice
from lapwright.reference.strictyaml import load_yaml
from lapwright.services.errors import SidecarAlone, SidecarRefused, SidecarTwice
from lapwright.services.sidecars import Ask, Sidecars, ask

ENDS = "tube_end: [1, 2]\ncup_face: [30.5, 4]\n"


def asked(text: str) -> Ask:
    return ask(load_yaml(text, where="s"), where="s")


def test_every_key_of_a_sidecar_is_read() -> None:
    text = ENDS + "px_per_mm: 98.4\npx_per_mm_u: 0.5\nid: H1-1\n"
    assert asked(text) == Ask("H1-1", (1.0, 2.0), (30.5, 4.0), 98.4, 0.5, None)
    assert asked("overlap_mm: 9.8\n") == Ask(overlap_mm=9.8)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tube_ends: [1, 2]", "tube_ends"),
        ("tube_end: [1, 2]", "one end without the other"),
        ("px_per_mm_u: 0.5", "a spread without its scale"),
        ("tube_end: 1,2\ncup_face: [3, 4]", "1,2"),
        ("tube_end: [1, 2, 3]\ncup_face: [3, 4]", "not a point"),
        ("tube_end: [1, nan]\ncup_face: [3, 4]", "nan"),
        ("tube_end: [1, 2e3]\ncup_face: [3, 4]", "2e3"),
        ("tube_end: [1, [2]]\ncup_face: [3, 4]", "not a number"),
        ("px_per_mm: 98 px", "98 px"),
        ("px_per_mm: ''", "not a number"),
        ("id: a/b", "a/b"),
        ("id: [a]", "not an id"),
        ("id: ''", "not an id"),
        ("- tube_end", "list"),
    ],
)
def test_sidecar_refused_names_what_stood_there(text: str, said: str) -> None:
    with pytest.raises(SidecarRefused, match=r"\[BATCH-002\]") as refusal:
        asked(text)
    assert said in str(refusal.value)


@given(st.text(max_size=40))
def test_no_text_makes_a_sidecar_fail_otherwise_than_by_a_refusal(text: str) -> None:
    for key in ("tube_end", "px_per_mm", "id"):
        with contextlib.suppress(LapwrightError):
            assert set(asked(f"{key}: {text}\n").as_dict()) == set(Ask().as_dict())


def test_no_sidecar_asks_nothing(tmp_path: Path) -> None:
    assert Sidecars().ask_for(tmp_path / "a.jpg") == Ask()


def test_sidecar_twice_is_refused(tmp_path: Path) -> None:
    (tmp_path / "faces.yaml").write_text("a.jpg: {id: x}\n")
    (tmp_path / "a.jpg.face.yaml").write_text("id: x\n")
    with pytest.raises(SidecarTwice, match=r"a\.jpg\.face\.yaml and faces\.yaml"):
        Sidecars().ask_for(tmp_path / "a.jpg")


def test_a_folders_sidecar_that_cannot_be_read_is_said_at_each_photograph(tmp_path: Path) -> None:
    (tmp_path / "faces.yaml").write_text("a.jpg: {id: x}\na.jpg: {id: y}\n")
    sidecars = Sidecars()
    for name in ("a.jpg", "b.jpg"):
        with pytest.raises(KeyTwice, match=r"^faces\.yaml: line 2"):
            sidecars.ask_for(tmp_path / name)


def test_sidecar_alone_is_told_with_what_is_there_instead(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").touch()
    (tmp_path / "a.png.face.yaml").write_text("id: x\n")
    (tmp_path / "faces.yaml").write_text("A.jpg: {id: x}\n../b.jpg: {id: y}\na.jpg: {id: z}\n")
    found = dict(Sidecars().alone(tmp_path))
    assert {path.name for path in found} == {"A.jpg", "b.jpg", "a.png"}
    assert all(isinstance(refusal, SidecarAlone) for refusal in found.values())
    assert "got a.png; there is a.jpg" in str(found[tmp_path / "a.png"])
