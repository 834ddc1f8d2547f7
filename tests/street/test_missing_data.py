"""A case with one thing left out: open, never met and never not met, and the key is named."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from lapwright.core.outcomes import Finding, Outcome, Why
from lapwright.services.judging import Judged, judge_case
from lapwright.services.text import say

from .building import case_folder, confirm_all, edit

Doc = dict[str, Any]
AS_OF = date(2026, 3, 20)
ITEMS = {"oxide", "excess-inside", "excess-outside", "erosion", "rolled-end", "unmelted-filler"}


def _judged(parent: Path, change: Callable[[Doc], Any]) -> Judged:
    folder = case_folder(parent)
    edit(folder, change)
    confirm_all(folder)
    return judge_case(folder, as_of=AS_OF).judged


def _asked(judged: Judged) -> list[tuple[Finding, str]]:
    """Return every finding that waits for data, with the key it names."""
    waits = [f for f in judged.judgement.findings if f.why is Why.NEEDS_DATA]
    return [(f, dict(f.message.params).get("field", "")) for f in waits]


def _joint(document: Doc) -> Doc:
    joint: Doc = document["coupons"][1]["joints"][0]
    return joint


LEFT_OUT = [
    (lambda d: d["coupons"][1]["purge"].pop("interrupted"), "purge.interrupted"),
    (lambda d: d["coupons"][1]["purge"].pop("analyser"), "purge.analyser"),
    (lambda d: d["coupons"][1]["purge"].pop("oxygen"), "purge.oxygen"),
    (lambda d: d["instruments"]["OXA-1"].pop("calibrated_until"), "instruments.calibrated_until"),
    (lambda d: d["instruments"]["LOU-3"].pop("resolution"), "instruments.resolution"),
    (lambda d: d["coupons"][1]["brazed"].pop("joint_type"), "brazed.joint_type"),
    (lambda d: d["coupons"][1]["brazed"].pop("manner"), "brazed.manner"),
    (lambda d: d["coupons"][1]["brazed"].pop("process"), "brazed.process"),
    (lambda d: d["coupons"][1]["brazed"].pop("flux"), "brazed.flux"),
    (lambda d: d["coupons"][1]["brazed"].pop("supervisor"), "brazed.supervisor"),
    (lambda d: d["coupons"][1]["brazed"].pop("started"), "brazed.started"),
    (lambda d: d["coupons"][1]["brazed"].pop("by"), "brazed.by"),
    (lambda d: d["coupons"][1]["tube"].pop("wall"), "tube.wall"),
    (lambda d: d["coupons"][1]["fitting"].pop("wall"), "fitting.wall"),
    (lambda d: d["coupons"][1]["cleaning"].pop("at"), "cleaning.at"),
    (lambda d: d["coupons"][1]["marking"].pop("seen_by"), "marking.seen_by"),
    (lambda d: _joint(d).pop("overlap"), "overlap"),
    (lambda d: _joint(d)["cut"].pop("fixed_on"), "cut.fixed_on"),
    (lambda d: _joint(d)["cut"].pop("fixed_before_looking"), "cut.fixed_before_looking"),
    (lambda d: _joint(d)["faces"][0].pop("half"), "faces.half"),
    (lambda d: _joint(d)["faces"][0].pop("crack"), "crack"),
    (lambda d: _joint(d)["faces"][0].pop("magnification"), "magnification"),
    (lambda d: _joint(d)["bore"].pop("opened"), "bore.opened"),
    (
        lambda d: _joint(d)["bore"]["opened"]["items"].pop("excess-inside"),
        "bore.opened.items.excess-inside",
    ),
    (lambda d: _joint(d)["bore"]["opened"]["items"].pop("oxide"), "bore.opened.items.oxide"),
    (lambda d: _joint(d)["visual"]["items"].pop("rolled-end"), "visual.items.rolled-end"),
    (lambda d: _joint(d)["visual"]["items"].pop("excess-outside"), "visual.items.excess-outside"),
    (lambda d: _joint(d)["visual"]["items"].pop("erosion"), "visual.items.erosion"),
    (
        lambda d: _joint(d)["visual"]["items"].pop("unmelted-filler"),
        "visual.items.unmelted-filler",
    ),
    (lambda d: d["procedure"].pop("signed"), "procedure.signed.by"),
]


@pytest.mark.parametrize(("left_out", "key"), LEFT_OUT, ids=[key for _, key in LEFT_OUT])
def test_what_is_left_out_is_asked_for_by_its_key(
    tmp_path: Path, left_out: Callable[[Doc], Any], key: str
) -> None:
    judged = _judged(tmp_path, left_out)
    assert key in {asked for _, asked in _asked(judged)}
    found = {p.position: p.verdict.outcome for p in judged.judgement.positions}
    assert Outcome.NOT_MET not in found.values()
    assert judged.judgement.verdict.outcome is Outcome.UNDETERMINED
    known = {*_keys(_schema()), *ITEMS}
    strange = [a for _, a in _asked(judged) if a and not set(a.split(".")) <= known]
    assert not strange


def _schema() -> Doc:
    text = (files("lapwright.services") / "schemas" / "case.schema.json").read_text("utf-8")
    loaded: Doc = json.loads(text)
    return loaded


def _keys(schema: object) -> list[str]:
    """Return every key that the published schema of case.yaml knows."""
    if isinstance(schema, list):
        return [key for part in schema for key in _keys(part)]
    if not isinstance(schema, dict):
        return []
    own = list(schema["properties"]) if isinstance(schema.get("properties"), dict) else []
    return own + [key for part in schema.values() for key in _keys(part)]


def test_a_silent_log_is_not_told_as_a_difference(tmp_path: Path) -> None:
    judged = _judged(tmp_path, lambda d: d["coupons"][1]["brazed"].pop("manner"))
    told = [f.message.id for f in judged.judgement.findings if f.rule.startswith("procedure.")]
    assert "following.differs" not in told
    assert not [f for f in judged.judgement.findings if str(f.subject) == "joint VA"]


def test_cleaning_after_the_braze_is_told_in_plain_time(tmp_path: Path) -> None:
    judged = _judged(
        tmp_path, lambda d: d["coupons"][1]["cleaning"].update(at="2026-03-04T09:40-06:00")
    )
    says = [say(f.message) for f in judged.judgement.findings if f.rule == "cleaning.max_hours"]
    assert any("begin 0 h 25 min before the cleaning" in text for text in says)
    assert not any("-0 h" in text for text in says)
