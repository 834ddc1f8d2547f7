"""Build the editions in force for a case, with or without a lead's confirmations."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from lapwright.rules.rulebook import Adopted, Confirmation, Edition, load_edition

LEAD = "Test Lead"
DAY = date(2026, 1, 5)


def adopted(
    editions: Sequence[str], confirmed: str | Sequence[str] = "all", *, on: date = DAY
) -> Adopted:
    """Adopt ``"code edition"`` names, e.g. ``["asme-bpvc-ix 2023", "nfpa-99 2018"]``.

    ``confirmed`` is ``"all"``, ``"none"`` or a list of rule ids that the
    invented lead has compared with a copy of the standard.
    """
    if isinstance(confirmed, str) and confirmed not in ("all", "none"):
        raise ValueError(f"confirmed: {confirmed!r} is neither all, none nor a list of rule ids")
    loaded = tuple(load_edition(*name.split()) for name in editions)
    ticks = tuple(c for edition in loaded for c in _ticks(edition, confirmed, on))
    return Adopted(loaded, on, ticks)


def _ticks(edition: Edition, confirmed: str | Sequence[str], on: date) -> Iterator[Confirmation]:
    for rule_id, dated in edition.rules.items():
        if confirmed == "all" or (confirmed != "none" and rule_id in confirmed):
            for rule in dated:
                yield Confirmation(edition.code, edition.edition, rule_id, rule.figure, LEAD, on)
