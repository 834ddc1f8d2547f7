"""What an act names, so that everything about it is found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from lapwright.core.subjects import subjects_of

from .acting import act, fix, trained, void

KEYS = {"person": "person", "by": "person", "record": "record", "instrument": "instrument"}
NAMES = st.sampled_from(["", "ines", "L1"])
BODIES = st.recursive(
    st.dictionaries(st.sampled_from([*KEYS, "about", "joint"]), NAMES, max_size=3),
    lambda inner: st.dictionaries(st.sampled_from([*KEYS, "list"]), inner | st.lists(inner)),
    max_leaves=5,
)


def slowly(value: Any) -> Iterator[str]:
    """Yield what a body names, by walking it key by key."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if isinstance(inner, str) and inner and key in KEYS:
                yield f"{KEYS[key]}:{inner}"
            yield from slowly(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from slowly(inner)


@given(BODIES)
def test_all_that_a_body_names_is_found(body: dict[str, Any]) -> None:
    body = {"parts": body, "coupon": "H"}
    assert set(subjects_of(act("ParcelReceived", body, "2026-03-04"))) == set(slowly(body))


def test_a_change_names_the_act_that_it_changes() -> None:
    first = trained("torch")
    other = fix(first, {"person": "omar", "what": "x"})
    assert subjects_of(void(first)) == (f"act:{first.sha256}",)
    assert subjects_of(other) == (f"act:{first.sha256}", "person:omar")


def test_a_doubt_names_what_it_is_about() -> None:
    body = {"about": "record:R-r1", "by": "", "reason": "x"}
    assert subjects_of(act("DoubtRaised", body, "2026-03-04")) == ("record:R-r1",)
    assert subjects_of(act("DoubtRaised", {**body, "about": "R"}, "2026-03-04")) == ()


class Name(str):
    """A text of a kind of its own."""

    __slots__ = ()


def test_mappings_and_texts_of_other_kinds_are_plain_too() -> None:
    body = {"coupon": Name("H"), "parts": MappingProxyType({"by": Name("ines")}), "more": (("a",),)}
    assert subjects_of(act("ParcelReceived", body, "2026-03-04")) == ("person:ines",)
