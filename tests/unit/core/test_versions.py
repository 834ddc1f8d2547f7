"""Every version of one act, with who, when and why."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from lapwright.core.acts import Act
from lapwright.core.errors import NamedActUnknown
from lapwright.core.versions import history_of
from lapwright.ledger.log import MemoryLog

from .acting import act, fix, trained, void

A, OTHER = trained("torch"), trained("other")
PURGE, FEED = {"person": "ines", "what": "purge"}, {"person": "ines", "what": "feed"}


def history(acts: Iterable[Act], of: Act = A) -> dict[str, Any]:
    """Return the history of an act in a log of its own."""
    log = MemoryLog()
    log.append(acts)
    return history_of(log.entries(), of.sha256)


def counts(told: dict[str, Any]) -> list[tuple[str, str]]:
    """Return kind and whether it counts, version by version."""
    return [(v["kind"], v["counts"]) for v in told["versions"]]


def test_an_act_that_nobody_touched_has_one_version() -> None:
    told = history([OTHER, A])
    assert (told["now"], told["type"], told["stream"]) == ("stands", "TrainingGiven", A.stream)
    assert told["versions"] == [
        {
            "entry": "1",
            "act": A.sha256,
            "kind": "filed",
            "names": "",
            "by": "lead",
            "recorded_by": "lead",
            "recorded_at": "2026-03-04T12:00:00Z",
            "happened_on": "2026-03-04",
            "reason": "",
            "body": A.body,
            "files": [],
            "counts": "counts",
        }
    ]


def test_who_when_and_why_of_a_correction_are_told() -> None:
    told = history([A, OTHER, fix(A, FEED, written="2026-03-07", by="teal")])
    assert told["now"] == "corrected"
    assert counts(told) == [("filed", "replaced"), ("corrected", "counts")]
    (_, last) = told["versions"]
    assert (last["entry"], last["by"], last["recorded_at"]) == ("2", "teal", "2026-03-07T12:00:00Z")
    assert (last["reason"], last["body"], last["names"]) == ("misread", FEED, A.sha256)


def test_of_two_corrections_the_first_is_replaced() -> None:
    told = history([A, fix(A, PURGE), fix(A, FEED)])
    assert [c for _, c in counts(told)] == ["replaced", "replaced", "counts"]


def test_a_corrected_correction_counts_in_its_new_words() -> None:
    one = fix(A, PURGE)
    two = fix(one, {**one.body, "body": FEED})
    assert [c for _, c in counts(history([A, one, two]))] == ["replaced", "replaced", "counts"]
    told = history([A, one, two], one)
    assert (told["type"], told["now"], len(told["versions"])) == ("ActCorrected", "corrected", 2)


def test_voids_and_voided_voids_are_told() -> None:
    gone = void(A, reason="twice")
    told = history([A, gone])
    assert (told["now"], counts(told)) == ("voided", [("filed", "voided"), ("voided", "counts")])
    assert (told["versions"][1]["reason"], told["versions"][1]["body"]) == ("twice", {})
    told = history([A, gone, void(gone)])
    assert (told["now"], [c for _, c in counts(told)]) == ("stands", ["counts", "voided", "counts"])


def test_a_voided_correction_no_longer_counts() -> None:
    one = fix(A, FEED)
    told = history([A, one, void(one)])
    assert (told["now"], [c for _, c in counts(told)]) == ("stands", ["counts", "voided", "counts"])


def test_a_correction_of_a_voided_act_counts_nothing() -> None:
    told = history([A, void(A), fix(A, FEED)])
    assert [c for _, c in counts(told)] == ["voided", "counts", "replaced"]


def test_an_act_that_no_entry_holds_has_no_history() -> None:
    with pytest.raises(NamedActUnknown, match="no entry holds"):
        history([OTHER])


def test_what_another_act_says_of_it_is_no_version() -> None:
    doubt = {"about": f"act:{A.sha256}", "by": "teal", "reason": "seen otherwise"}
    told = history([A, act("DoubtRaised", doubt, "2026-03-05")])
    assert len(told["versions"]) == 1
