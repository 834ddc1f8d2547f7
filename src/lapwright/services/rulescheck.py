"""Whether a record's rule rows are those of its editions, and what the shipped rules decide."""

from __future__ import annotations

from typing import Any

from lapwright.core.errors import LapwrightError
from lapwright.core.messages import Message
from lapwright.core.outcomes import Outcome, Why
from lapwright.rules.errors import EditionUnknown

from .judging import Judged
from .recorddata import skeleton
from .recordfile import (
    RecordParts,
    adopted_editions,
    differing_rows,
    judge_as_shipped,
    plain_results,
)
from .text import outcome_word, word


def kept_results(parts: RecordParts) -> dict[str, Any]:
    """Return decision and range as they stand in the record."""
    return {k: parts.data[k] for k in ("decision", "range")}


def parts_that_differ(one: dict[str, Any], other: dict[str, Any]) -> str:
    """Return the names of the parts in which two skeletons differ."""
    return ", ".join(part for part in one if one[part] != other[part])


def check_rules(parts: RecordParts) -> tuple[Outcome, Message, Why | None]:
    """Compare the rule rows with the adopted editions, then with the rules shipped here.

    Parameters
    ----------
    parts : RecordParts
        What the record carries.
    """
    named, adopted = parts.rules["editions"], adopted_editions(parts)
    if named != adopted:
        told = Message(
            "verify.rules.editions", named=", ".join(named) or "–", adopted=", ".join(adopted)
        )
        return Outcome.NOT_MET, told, None
    try:
        shipped = judge_as_shipped(parts)
    except EditionUnknown as unknown:
        told = Message("verify.rules.unknown", edition=unknown.got)
        return Outcome.UNDETERMINED, told, Why.HOLD
    except LapwrightError as refusal:
        told = Message("verify.rules.refused", why=str(refusal))
        return Outcome.UNDETERMINED, told, Why.HOLD
    again, kept = skeleton(plain_results(shipped)), skeleton(kept_results(parts))
    rows, parts_other = differing_rows(parts, shipped), parts_that_differ(again, kept)
    if not rows and not parts_other:
        return Outcome.MET, Message("verify.rules.same"), None
    return Outcome.UNDETERMINED, _rules_differ(rows, parts_other, shipped), Why.HOLD


def _rules_differ(rows: list[str], parts_other: str, shipped: Judged) -> Message:
    """Say which rows differ, what the shipped rules decide, and where the record says else."""
    verdict = shipped.judgement.verdict
    decision = outcome_word(verdict.outcome, verdict.why)
    if not rows:
        return Message("verify.rules.other", decision=decision, parts=parts_other)
    more = word("verify.rules.more", count=str(len(rows) - 5)) if len(rows) > 5 else ""
    told = {
        "count": str(len(rows)),
        "rules": ", ".join(rows[:5]) + more,
        "decision": decision,
    }
    if not parts_other:
        return Message("verify.rules.rows", **told)
    return Message("verify.rules.rows.other", parts=parts_other, **told)
