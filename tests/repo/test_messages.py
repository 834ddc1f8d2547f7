"""Every message has a sentence with the same parameters, and no sentence is left over."""

from __future__ import annotations

from repo.messages import catalogue, message_uses, placeholders, unused_ids, use_offenders
from repo.tree import Module, source_modules, told

BAD = """
a = Message("face.share", share="1")
b = Message("face.unknown")
c = Message(f"face.why.{why}")
d = Message(f"other.{why}", **given)
e = Message("face.share", **given)
f = messages.Message("face.share", share="1", limit="2")
g = Message(chosen)
h = Message("face.left" if x else "face.right")
i = f"{all}.of.it"
"""
SENTENCES = {
    "face.share": frozenset({"share", "limit"}),
    "face.why.dark": frozenset(),
    "face.left": frozenset(),
    "face.gone": frozenset(),
}


def test_every_sentence_is_written_once() -> None:
    _, offenders = catalogue()
    assert not offenders, told(offenders, "Mend these entries of the catalogue:")


def test_every_message_has_its_sentence() -> None:
    offenders = use_offenders(message_uses(source_modules()), catalogue()[0])
    assert not offenders, told(offenders, "Mend these in src/lapwright/locale/en/<area>.po:")


def test_every_sentence_is_used() -> None:
    offenders = unused_ids(catalogue()[0], source_modules())
    assert not offenders, told(offenders, "No code names these sentences:")


def test_the_message_checks_find_missing_false_and_unused_sentences() -> None:
    modules = [Module("m.py", BAD)]
    uses = tuple(message_uses(modules))
    assert use_offenders(uses, SENTENCES) == [
        "m.py:2: face.share gives ['share'], sentence has ['limit', 'share']",
        "m.py:3: face.unknown has no sentence",
        "m.py:5: no sentence fits other\\..+",
        "m.py:9: face.right has no sentence",
    ]
    assert unused_ids(SENTENCES, modules) == ["face.gone"]


def test_placeholders_are_the_names_in_braces() -> None:
    assert placeholders("{share} of {limit:>5} {{not}} {a.b}") == {"share", "limit", "a"}
