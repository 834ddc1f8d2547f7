"""Turn messages into sentences: one gettext catalogue for command line, pages and PDFs.

The catalogue is every ``*.po`` file of a language folder, merged; message ids
are the msgids. Nothing is guessed: an unknown id or a missing parameter is a
programming mistake and raises.
"""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Why

OUTCOME_WORDS = {Outcome.MET: "outcome.met", Outcome.NOT_MET: "outcome.not_met"}


@cache
def catalogue(language: str = "en") -> dict[str, str]:
    """Return message id -> sentence of one language."""
    import polib

    entries: dict[str, str] = {}
    folder = files("lapwright") / "locale" / language
    for item in sorted(folder.iterdir(), key=lambda p: p.name):
        if item.name.endswith(".po"):
            for entry in polib.pofile(item.read_text("utf-8")):
                if entry.msgid in entries:
                    raise ValueError(f"{item.name}: {entry.msgid} stands twice")
                entries[entry.msgid] = entry.msgstr
    return entries


def say(message: Message, language: str = "en") -> str:
    """Return the sentence of a message."""
    params = {name: _Counted(value) for name, value in message.params}
    return catalogue(language)[message.id].format(**params)


class _Counted(str):
    """A parameter that also chooses between two words: ``{count} {count:entry|entries}``.

    A sentence may count several things, each with its own words, which one gettext plural
    cannot say.
    """

    __slots__ = ()

    def __format__(self, spec: str) -> str:
        one, bar, more = spec.partition("|")
        if not bar:
            return str.__format__(self, spec)
        return one if self == "1" else more


def say_of(finding: Finding) -> str:
    """Return a finding's sentence, its subject in front where the sentence does not name it."""
    told, subject = say(finding.message), finding.subject
    if not subject.id or re.search(rf"(?<!\w){re.escape(subject.id)}(?!\w)", told):
        return told
    name = str(subject)
    return f"{name[:1].upper()}{name[1:]}: {told}"


def word(id_: str, language: str = "en", **params: str) -> str:
    """Return a fixed wording of the catalogue, such as a column title."""
    return say(Message(id_, **params), language)


def outcome_word(outcome: Outcome, why: Why | None = None, language: str = "en") -> str:
    """Return "Met", "Not met" or "Open: ...", the words used on pages and paper."""
    if outcome is Outcome.UNDETERMINED:
        reason = catalogue(language)[_WHY_IDS[why or Why.NEEDS_DATA]]
        return catalogue(language)["outcome.open"].format(why=reason)
    return catalogue(language)[OUTCOME_WORDS[outcome]]


_WHY_IDS = {
    Why.CONFLICT: "why.conflict",
    Why.HOLD: "why.hold",
    Why.NEEDS_DATA: "why.needs_data",
    Why.UNREAD: "why.unread",
    Why.UNCONFIRMED: "why.unconfirmed",
}
