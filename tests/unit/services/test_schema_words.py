"""A value of none of several forms is told what the forms are."""

from __future__ import annotations

import pytest

from lapwright.services import schema
from lapwright.services.errors import CaseKeyRefused


def test_a_bare_number_among_unbrazed_runs_is_told_both_forms(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = schema.schema("case")

    def find(node):
        if isinstance(node, dict):
            if "anyOf" in node:
                yield node
            node = list(node.values())
        if isinstance(node, list):
            for child in node:
                yield from find(child)

    (form,) = find(case)
    monkeypatch.setattr(schema, "schema", lambda _: {"properties": {"unbrazed": {"items": form}}})
    with pytest.raises(CaseKeyRefused) as refusal:
        schema.check({"unbrazed": ["0.5"]}, "case", where="case.yaml")
    said = str(refusal.value)
    assert "unbrazed[0]" in said
    assert "a length with its unit, like 0.060 in or 8.6 mm, or the keys start and end" in said


def test_a_document_of_another_schema_is_refused_for_its_schema_first() -> None:
    with pytest.raises(CaseKeyRefused) as told:
        schema.check({"schema": "lapwright-case/1", "coupons": []}, "paper", where="case.yaml")
    assert (told.value.got, told.value.expected) == ("'lapwright-case/1'", "lapwright-paper/1")
