"""How well the third-reading limit is known, in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from lapwright.measure.gauge import GaugeStudy
from lapwright.measure.thirdlimit import looks_copied, third_limit, usual_plans

from .readersfigures import points, span, table_lines
from .text import word


def limit_lines(study: GaugeStudy) -> Iterator[str]:
    """Yield the limit's interval, what leaves its doubt, and what a larger study would give.

    Parameters
    ----------
    study : GaugeStudy
        The gauge study.
    """
    told = third_limit(study)
    if not told.mostly:
        return
    source = word(f"readers.source.{told.mostly}")
    yield "  " + word(
        "readers.third_interval", interval=span(told.interval), df=f"{told.df:.1f}", source=source
    )
    yield "  " + word(f"readers.third_known.{told.known}")
    columns = (
        word("readers.plan_faces"),
        word("readers.plan_readers"),
        word("readers.plan_limit"),
        word("readers.col_interval"),
    )
    limit = points(told.limit)
    rows = [(str(p.faces), str(p.readers), limit, span(p.interval)) for p in usual_plans(study)]
    yield "  " + word("readers.plan")
    yield from table_lines(columns, rows)


def limit_document(study: GaugeStudy) -> dict[str, Any]:
    """Return the limit with its interval and the plans, as plain JSON; no limit from copies.

    Parameters
    ----------
    study : GaugeStudy
        The gauge study.
    """
    if looks_copied(study) == "yes":
        return {"looks_copied": "yes", "third_reading_limit": None}
    told = third_limit(study)
    return {
        "looks_copied": "no",
        "third_reading_limit": told.limit,
        "third_reading_limit_interval95": list(told.interval),
        "third_reading_limit_df": told.df,
        "third_reading_limit_doubt_from": told.mostly,
        "third_reading_limit_known": told.known,
        "third_reading_limit_plans": [
            {"faces": p.faces, "readers": p.readers, "interval95": list(p.interval)}
            for p in usual_plans(study)
        ],
    }
