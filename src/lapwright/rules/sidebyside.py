"""Two procedures side by side, variable by variable.

One side is what the former employer's test proves, the other what the new
employer's procedure lets its brazers do. Each variable is equal, within what was
tested, in part (the common part is named), different, or unknown. A variable
whose change asks for a new test (ASME BPVC IX, QB-351.1 list, from memory) and
which differs is not met; words on a topic of NFPA 99 that differ are held until a
person of the new employer says in writing that they mean the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction

from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject
from lapwright.core.quantities import Quantity

from .asking import Question, Ruling
from .positions import positions_covered
from .rulebook import Adopted
from .rulings import met, needed, not_met

WORDS = (  # variable, rule id
    ("process", "variable.process"),
    ("manner", "variable.machine"),
    ("joint_type", "variable.joint_type"),
    ("p_numbers", "variable.p_number"),
    ("f_number", "variable.f_number"),
    ("form", "variable.product_form"),
    ("flux", "procedure.flux"),
)
SPANS = (
    ("tube_wall", "thickness.bands"),
    ("fitting_wall", "thickness.bands"),
    ("overlap", "overlap.max_increase"),
)
TOPICS = ("cleaning", "clearance", "purge-gas", "purge-flow")
TOPIC_RULE, COMMON, SAME_WORDS = "bps.topics", "accept.common_range", "accept.same_words"


class Relation(Enum):
    """How the new procedure's value lies to what was tested."""

    EQUAL = "equal"
    WITHIN = "within"
    IN_PART = "in part"
    DIFFERS = "differs"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Span:
    """A closed range of a quantity; ``None`` leaves an end open."""

    low: Quantity | None
    high: Quantity | None

    @property
    def text(self) -> str:
        """The range in words of its own units."""
        if self.low is None or self.high is None:
            end, sign = (self.high, "≤") if self.low is None else (self.low, "≥")
            return f"{sign} {end.text}" if end is not None else "any"
        return self.low.text if self.low == self.high else f"{self.low.text} to {self.high.text}"


@dataclass(frozen=True)
class Side:
    """What one employer's papers say: words, spans and topics by variable; absent is unknown.

    ``notes`` stands beside a variable where the text alone would mislead.
    """

    employer: str
    procedure: str
    words: Mapping[str, tuple[str, ...]]
    spans: Mapping[str, tuple[Span, ...]]
    topics: Mapping[str, str] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Compared:
    """One variable side by side; ``common`` is what both hold where they agree in part."""

    variable: str
    old: str
    new: str
    relation: Relation
    finding: Finding
    common: str = ""


@dataclass(frozen=True)
class SameWords:
    """A person's written statement that two wordings mean the same: topic -> reason."""

    by: str
    reasons: Mapping[str, str]


def compare(
    old: Side, new: Side, *, stated: SameWords | None = None, adopted: Adopted
) -> tuple[Compared, ...]:
    """Compare two sides variable by variable.

    Parameters
    ----------
    old, new : Side
        What was tested elsewhere; what the new procedure lets its brazers do.
    stated : SameWords, optional
        What a person of the new employer has stated on topics worded otherwise.
    adopted : Adopted
        The adopted editions; a variable that none of them states is left out.
    """
    return tuple(_rows(old, new, stated or SameWords("", {}), adopted))


def _rows(old: Side, new: Side, stated: SameWords, adopted: Adopted) -> Iterator[Compared]:
    for name, rule in WORDS:
        if adopted.has(rule):
            yield _words(name, rule, old.words.get(name, ()), new.words.get(name, ()), adopted)
    if adopted.has("position.covers"):
        yield _positions(old.words.get("positions", ()), new.words.get("positions", ()), adopted)
    for name, rule in SPANS:
        asked = name in old.spans or name in new.spans  # else no thickness reading asks for it
        if adopted.has(rule) and asked:
            yield _spans(name, rule, old, new, adopted)
    if adopted.has(TOPIC_RULE):
        for topic in TOPICS:
            yield _topic(
                topic, old.topics.get(topic, ""), new.topics.get(topic, ""), stated, adopted
            )


def _words(
    name: str, rule: str, old: Sequence[str], new: Sequence[str], adopted: Adopted
) -> Compared:
    ask = _ask(rule, name, adopted)
    shown_old, shown_new = ", ".join(sorted(set(old))), ", ".join(sorted(set(new)))
    if not old or not new:
        return _unknown(ask, name, shown_old, shown_new)
    held = _with_pairs(old) if name == "p_numbers" else set(old)
    relation, common = _relation_of_sets(held, set(new), exact=set(old) == set(new))
    return _answered(ask, name, (shown_old, shown_new), relation, ", ".join(sorted(common)))


def _with_pairs(tested: Sequence[str]) -> set[str]:
    """Return the pairs of metals; two metals each tested alone serve the pair (QB-402.2)."""
    pairs = {tuple(sorted(t.split("-"))) for t in tested}
    alone = sorted(p[0] for p in pairs if len(set(p)) == 1)
    both = {(a, b) for a in alone for b in alone if a < b}
    return {"-".join(p) for p in pairs | both}


def _positions(old: Sequence[str], new: Sequence[str], adopted: Adopted) -> Compared:
    ask = _ask("position.covers", "positions", adopted)
    tested, asked = ", ".join(sorted(set(old))), ", ".join(sorted(set(new)))
    if not old or not new:
        return _unknown(ask, "positions", tested, asked)
    covered = set(positions_covered(old, adopted=adopted))
    relation, common = _relation_of_sets(covered, set(new), exact=set(old) == set(new))
    shown = f"{tested} (covers {', '.join(sorted(covered))})"
    return _answered(ask, "positions", (shown, asked), relation, ", ".join(sorted(common)))


def _relation_of_sets(
    held: set[str], asked: set[str], *, exact: object
) -> tuple[Relation, set[str]]:
    if exact is True:
        return Relation.EQUAL, asked
    if asked <= held:
        return Relation.WITHIN, asked
    common = held & asked
    return (Relation.IN_PART if common else Relation.DIFFERS), common


def _spans(name: str, rule: str, old: Side, new: Side, adopted: Adopted) -> Compared:
    ask = _ask(rule, name, adopted)
    held, asked = merged(old.spans.get(name, ())), merged(new.spans.get(name, ()))
    shown = tuple("; ".join(s.text for s in spans) for spans in (held, asked))
    shown_old, shown_new = (
        f"{text} ({note})" if note else text
        for text, note in zip(shown, (old.notes.get(name), new.notes.get(name)), strict=True)
    )
    if not held or not asked:
        return _unknown(ask, name, shown_old, shown_new)
    both = common_spans(held, asked)
    if not both:
        relation = Relation.DIFFERS
    elif _same(held, asked):
        relation = Relation.EQUAL
    else:
        relation = Relation.WITHIN if _same(both, asked) else Relation.IN_PART
    common = "; ".join(s.text for s in both)
    return _answered(ask, name, (shown_old, shown_new), relation, common)


def _topic(topic: str, old: str, new: str, stated: SameWords, adopted: Adopted) -> Compared:
    ask = _ask(TOPIC_RULE, topic, adopted)
    if not old or not new:
        return _unknown(ask, topic, old, new)
    if _plain(old) == _plain(new):
        return _answered(ask, topic, (old, new), Relation.EQUAL, "")
    reason = stated.reasons.get(topic, "")
    ask = Question(TOPIC_RULE, ask.subject, adopted, also=(SAME_WORDS,))
    if reason:
        told = met("compare.stated", by=stated.by, reason=reason, saw=new, bound=old)
        return Compared(topic, old, new, Relation.DIFFERS, ask.answer(lambda _: told))
    held = ask.hold(Message("compare.other_words", old=old, new=new), observed=new)
    return Compared(topic, old, new, Relation.DIFFERS, held)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


def _ask(rule: str, name: str, adopted: Adopted) -> Question:
    return Question(rule, Subject("variable", name), adopted)


def _unknown(ask: Question, name: str, old: str, new: str) -> Compared:
    side = "both" if not (old or new) else ("former" if not old else "new")
    finding = ask.answer(lambda _: needed(f"compare.unknown_{side}"))
    return Compared(name, old, new, Relation.UNKNOWN, finding)


def _answered(
    ask: Question, name: str, shown: tuple[str, str], relation: Relation, common: str
) -> Compared:
    old, new = shown
    told = {"old": old, "new": new, "saw": new, "bound": old}
    if relation is Relation.IN_PART:
        ask = Question(ask.rule, ask.subject, ask.adopted, also=(COMMON,))
        finding = ask.answer(lambda _: met("compare.in_part", common=common, **told))
        return Compared(name, old, new, relation, finding, common)
    makers = {
        Relation.EQUAL: lambda: met("compare.equal", new=new, saw=new, bound=old),
        Relation.WITHIN: lambda: met("compare.within", **told),
        Relation.DIFFERS: lambda: not_met("compare.differs", **told),
    }
    made: Ruling = makers[relation]()
    return Compared(name, old, new, relation, ask.answer(lambda _: made))


def merged(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Return spans in order with those that touch put together.

    Parameters
    ----------
    spans : sequence of Span
        Closed ranges of one kind of quantity.
    """
    found: list[Span] = []
    for span in sorted(spans, key=_low):
        if found and _low(span) <= _high(found[-1]):
            last = found[-1]
            high = last.high if _high(last) >= _high(span) else span.high
            found[-1] = Span(last.low, high)
        else:
            found.append(span)
    return tuple(found)


def common_spans(one: Sequence[Span], two: Sequence[Span]) -> tuple[Span, ...]:
    """Return what two sets of spans have in common.

    Parameters
    ----------
    one, two : sequence of Span
        Closed ranges of one kind of quantity.
    """
    both = []
    for a in one:
        for b in two:
            low = a.low if _low(a) >= _low(b) else b.low
            high = a.high if _high(a) <= _high(b) else b.high
            if _low(Span(low, None)) <= _high(Span(None, high)):
                both.append(Span(low, high))
    return merged(both)


def _same(one: Sequence[Span], two: Sequence[Span]) -> object:
    return [(_low(s), _high(s)) for s in one] == [(_low(s), _high(s)) for s in two]


def _low(span: Span) -> tuple[int, Fraction]:
    return (0, Fraction(0)) if span.low is None else (1, span.low.base)


def _high(span: Span) -> tuple[int, Fraction]:
    return (2, Fraction(0)) if span.high is None else (1, span.high.base)


def failing(rows: Sequence[Compared]) -> tuple[str, ...]:
    """Return the variables on which the two sides differ beyond what a person may settle."""
    return tuple(r.variable for r in rows if r.finding.before_confirmation is Outcome.NOT_MET)
