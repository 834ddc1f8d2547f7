"""Old bodies in the shape of today; nothing is made up, nothing is lost."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.acts import ACT_TYPES, Act
from lapwright.core.upcasting import STEPS, lifted_body, newest

AT = datetime(2026, 1, 9, tzinfo=UTC)


def test_every_older_version_has_a_step_and_no_other_has() -> None:
    older = {(t, n) for t, (last, _) in ACT_TYPES.items() for n in range(1, last)}
    assert set(STEPS) == older


FIRST = {
    "MethodChecked": ("method", "faces", "limits"),
    "RecordIssued": ("record", "payload_sha256"),
    "RecordSigned": ("record", "file_sha256"),
}  # what each first version asked for


@pytest.mark.parametrize("type_", sorted(FIRST))
def test_a_lifted_body_has_every_key_of_today(type_: str) -> None:
    body = dict.fromkeys(FIRST[type_], "x")
    assert set(lifted_body(type_, 1, body=body)) == set(ACT_TYPES[type_][1])


def test_what_the_first_method_check_did_not_hold_stays_unknown() -> None:
    body = {"method": "m", "faces": "40", "limits": {"max_bias": "0.01"}}
    old = Act("MethodChecked", body, date(2026, 1, 9), "lead", AT)
    assert newest(old).body == {**body, "figures": {}, "by": "", "readings_sha256": ""}


def test_figures_that_an_older_body_held_all_the_same_are_kept() -> None:
    body = {"method": "m", "faces": "40", "limits": {}, "by": "lead", "figures": {"bias": "0.1"}}
    old = Act("MethodChecked", body, date(2026, 1, 9), "lead", AT)
    lifted = newest(old).body
    assert (lifted["by"], lifted["figures"]) == ("lead", {"bias": "0.1"})


@pytest.mark.parametrize(
    ("name", "number", "revision"),
    [("TLH-01-QP7K-r12", "TLH-01-QP7K", "12"), ("A-r1-r2", "A-r1", "2"), ("plain", "plain", "")],
)
def test_a_records_name_is_parted_at_its_last_revision(
    name: str, number: str, revision: str
) -> None:
    body = lifted_body("RecordSigned", 1, body={"record": name, "file_sha256": "f"})
    assert (body["record"], body["revision"]) == (number, revision)
    issued = lifted_body("RecordIssued", 1, body={"record": name, "payload_sha256": "p"})
    assert (issued["register"], issued["person"], issued["case"]) == ("", "", "")


def test_an_act_of_today_is_itself() -> None:
    act = Act("TrainingGiven", {"person": "p", "what": "x"}, date(2026, 1, 9), "lead", AT)
    assert newest(act) is act


@given(st.dictionaries(st.text(max_size=5), st.text(max_size=5)), st.sampled_from(sorted(STEPS)))
def test_unknown_keys_survive_and_the_bytes_stay(
    more: dict[str, str], step: tuple[str, int]
) -> None:
    old = Act(step[0], {f"later {k}": v for k, v in more.items()}, date(2026, 1, 9), "lead", AT)
    raw, lifted = old.to_bytes(), newest(old)
    assert old.body.items() <= lifted.body.items()
    assert lifted.version == ACT_TYPES[step[0]][0]
    assert (old.to_bytes(), lifted.happened_on) == (raw, old.happened_on)
    assert lifted.to_bytes() != raw
