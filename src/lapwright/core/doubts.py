"""Doubts about a person, a record or an instrument, raised and cleared.

A doubt stands until an act clears it by name. What a doubt means for a
qualification is for the rules to say; here is only who said what, and when.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from .acts import Act


@dataclass(frozen=True)
class Doubt:
    """A reasoned doubt, and who cleared it; ``about`` is ``kind:id``, as ``person:ines``.

    ``act`` is the name of the act that raised it. ``cleared_on`` is None while it stands.
    """

    act: str
    about: str
    by: str
    on: date
    reason: str
    cleared_on: date | None = None
    cleared_by: str = ""
    cleared_reason: str = ""


class Doubts:
    """The doubts of one fold, by the name of the act that raised each."""

    def __init__(self) -> None:
        self._held: dict[str, Doubt] = {}

    def raised(self, act: Act, *, name: str) -> None:
        """Take in a ``DoubtRaised``."""
        b = act.body
        self._held[name] = Doubt(name, b["about"], b["by"], act.happened_on, b["reason"])

    def cleared(self, act: Act) -> None:
        """Take in a ``DoubtCleared``; the first one of a doubt counts.

        One that names no doubt that stands, or a doubt about something else, clears nothing.
        """
        b = act.body
        doubt = self._held.get(b["doubt"])
        if doubt is None or doubt.about != b["about"]:
            return
        if doubt.cleared_on is None:
            self._held[doubt.act] = replace(
                doubt, cleared_on=act.happened_on, cleared_by=b["by"], cleared_reason=b["reason"]
            )

    def freeze(self) -> tuple[Doubt, ...]:
        """Return the doubts in the order in which they were raised."""
        return tuple(self._held.values())
