"""Cover: which person may braze which class of joints on a day, and what the nearest one lacks.

A joint is covered by one qualification of the person that is in force and certified, whose
passed joints serve every variable at once, and by one record of the procedure (the window of
both sides). Several qualifications add up. Two base metals that the person qualified each
alone, with one filler, flux and process, are combined over all qualifications in force
(ASME BPVC IX, QB-402.2). Nearest is the qualification with the fewest failing variables, then
the smallest excess (house rule, no source).

The grid works in whole numbers whose bit *i* speaks of class *i*: for each question one number
a state, worked out once for equal values. A state is at least *k* where any question says so,
and the best qualification answers, so a matrix of many people costs a few operations a person.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from lapwright.core.evidence import Pqr, Procedure
from lapwright.core.messages import Message
from lapwright.core.outcomes import Finding, Outcome, Subject, Verdict, Why, combine

from .coverparts import (
    FAILED,
    MET,
    OPEN,
    Answer,
    Group,
    HeldOn,
    JointClass,
    Lack,
    records_of,
    state_of,
)
from .coverquestions import PER_RECORD, PER_TEST, Variable, lack_of
from .ranges import TestedJoint, least_overlap, needed_together

Masks = tuple[int, int, int]  # classes whose state is at least open, strict, failed
Run = list[tuple[int, JointClass]]
NOTHING: Masks = (0, 0, 0)
_ORDER = {Outcome.MET: 0, Outcome.UNDETERMINED: 1, Outcome.NOT_MET: 2}
_Key = tuple[int, int, int, Fraction, str, int]


def groups_of(held: Sequence[HeldOn]) -> tuple[Group, ...]:
    """Return what the qualifications of one person consist of: joints that passed together."""
    alone = [
        t for h in held for t in h.tests if h.gate(t.position) == MET and len(set(t.p_numbers)) == 1
    ]
    return tuple(
        Group(h, _alike(g), (*h.tests, *(t for t in alone if t not in h.tests)))
        for h in sorted(held, key=lambda h: h.id)
        for g in needed_together(h.tests)
    )


def _alike(group: Sequence[TestedJoint]) -> tuple[TestedJoint, ...]:
    """Return each different joint of a group once, with the smallest overlap for all."""
    least = least_overlap(group)
    kept = (
        replace(t, coupon="", joint="", overlap=least if t.overlap is not None else None)
        for t in group
    )
    return tuple(dict.fromkeys(kept))


@dataclass
class Cover:
    """Cover of a job's joint classes by people, on the day that the qualifications stand for.

    Attributes
    ----------
    classes : tuple of JointClass
        The lines of the matrix.
    held : tuple of HeldOn
        Every qualification of every person.
    procedures : mapping
        Procedures known by id, for classes that name one.
    unread : mapping
        Person to qualifications in force whose range is not known here, such as those from
        paper: what they may cover stays open.
    """

    classes: tuple[JointClass, ...]
    held: tuple[HeldOn, ...]
    procedures: Mapping[str, Procedure] = field(default_factory=dict)
    unread: Mapping[str, str] = field(default_factory=dict)
    _lines: dict[str, list[tuple[int, JointClass]]] = field(default_factory=dict, init=False)
    _ordered: dict[str, list[Run]] = field(default_factory=dict, init=False)
    _known: dict[Hashable, Masks] = field(default_factory=dict, init=False)
    _found: dict[Hashable, tuple[Finding, ...]] = field(default_factory=dict, init=False)
    _groups: dict[str, tuple[Group, ...]] = field(default_factory=dict, init=False)
    _named: dict[str, int] = field(default_factory=dict, init=False)
    _rows: dict[str, Masks] = field(default_factory=dict, init=False)

    def __post_init__(self) -> None:
        self._all = (1 << len(self.classes)) - 1
        by_person: dict[str, list[HeldOn]] = {}
        for h in self.held:
            by_person.setdefault(h.person, []).append(h)
        self._groups = {p: groups_of(own) for p, own in by_person.items()}

    def states(self, person: str) -> Masks:
        """Return which classes are at least open, open with a refusal, and not covered.

        Parameters
        ----------
        person : str
            Id of a person; somebody without a qualification is covered for nothing.
        """
        known = self._rows.get(person)
        if known is None:
            known = (self._all, 0, 0) if self.unread.get(person) else (self._all,) * 3
            for group in self._groups.get(person, ()):
                known = _best(known, self._of_group(group))
            self._rows[person] = known
        return known

    def state(self, person: str, line: int) -> int:
        """Return the state of one cell: met, open, open with a refusal, or not covered."""
        return sum(mask >> line & 1 for mask in self.states(person))

    def answer(self, person: str, line: int) -> Answer:
        """Return one cell with its reason: the nearest qualification and what it lacks.

        Parameters
        ----------
        person : str
            Id of a person.
        line : int
            Index of the class.
        """
        about, groups = self.classes[line], self._groups.get(person, ())
        state = self.state(person, line)
        close = [g for g in groups if sum(m >> line & 1 for m in self._of_group(g)) == state]
        options = [o for n, g in enumerate(close) for o in self._options(g, about, n)]
        if not options:
            alone = _nobody(person, about, self.unread.get(person, ""))
            return Answer(person, about.id, combine([alone]), "", ())
        _, group, verdict, lacks = min(options, key=lambda o: o[0])
        found = tuple(f for f in verdict.findings if f not in group.gate)
        return Answer(person, about.id, verdict, group.held.id, lacks, combine(found))

    def _of_group(self, group: Group) -> Masks:
        """Return the states that one group gives, its whole qualification reckoned with."""
        known = self._known.get(("group", id(group)))
        if known is None:
            gate = group.state
            known = _worst(
                tuple(self._all if gate >= k else 0 for k in (1, 2, 3)),  # type: ignore[arg-type]
                *(self._asked(v, group, t) for t in group.alike for v in PER_TEST),
                *self._windows(group),
            )
            self._known["group", id(group)] = known
        return known

    def _windows(self, group: Group) -> Iterator[Masks]:
        """Yield, for every procedure that classes name, the states of its classes' window."""
        for mask in self._by_procedure().values():
            line = (mask & -mask).bit_length() - 1
            records = records_of(self.classes[line], group.held, self.procedures)
            if records is None:
                yield (mask, 0, 0)
            elif records:
                best = (self._all,) * 3
                for record in records:
                    asked = (self._asked(v, group, record) for v in _of(group, PER_RECORD))
                    best = _best(best, _worst(NOTHING, *asked))
                yield (best[0] & mask, best[1] & mask, best[2] & mask)

    def _by_procedure(self) -> dict[str, int]:
        """Return the procedures that classes name, each with its classes; worked out once."""
        found = self._named
        if found:
            return found
        for i, c in enumerate(self.classes):
            found[c.procedure] = found.get(c.procedure, 0) | 1 << i
        return found

    def _asked(self, variable: Variable, group: Group, test: TestedJoint | Pqr) -> Masks:
        """Return the states of one question over all classes, worked out once for equal values."""
        adopted = id(group.held.adopted)
        key = (variable.name, isinstance(test, Pqr), adopted, variable.of_test(group, test))
        known = self._known.get(key)
        if known is None:
            sums = [0, 0, 0]

            def state(about: JointClass) -> int:
                return max((state_of(f) for f in variable.judge(group, test, about)), default=MET)

            for run in self._runs(variable):
                for mask, answered in _by_halves(run, state):
                    for k in range(answered):
                        sums[k] |= mask
            known = self._known[key] = (sums[0], sums[1], sums[2])
        return known

    def _runs(self, variable: Variable) -> list[Run]:
        """Return the values of a variable in runs along which the answer moves one way only."""
        known = self._ordered.get(variable.name)
        if known is None:
            kinds: dict[Hashable, list[tuple[Fraction, int, JointClass]]] = {}
            for n, (mask, about) in enumerate(self._values(variable)):
                kind, place = variable.rank(about) if variable.rank else (n, Fraction(0))
                kinds.setdefault(kind, []).append((place, mask, about))
            known = [
                [(mask, about) for _, mask, about in sorted(run, key=lambda r: r[0])]
                for run in kinds.values()
            ]
            self._ordered[variable.name] = known
        return known

    def _values(self, variable: Variable) -> list[tuple[int, JointClass]]:
        """Return the different values of a variable: their classes, and one to ask about."""
        known = self._lines.get(variable.name)
        if known is None:
            masks: dict[Hashable, int] = {}
            first: dict[Hashable, JointClass] = {}
            for i, about in enumerate(self.classes):
                value = variable.of_class(about)
                masks[value] = masks.get(value, 0) | 1 << i
                first.setdefault(value, about)
            known = self._lines[variable.name] = [(m, first[v]) for v, m in masks.items()]
        return known

    def _options(
        self, group: Group, about: JointClass, number: int
    ) -> Iterator[tuple[_Key, Group, Verdict, tuple[Lack, ...]]]:
        """Yield a group with each record of the procedure: its verdict, and how near it comes."""
        records = records_of(about, group.held, self.procedures)
        tests = [(v, t) for t in group.alike for v in PER_TEST]
        for record in records or (None,):
            asked: list[tuple[Variable, TestedJoint | Pqr]] = list(tests)
            if record is not None:
                asked += [(v, record) for v in _of(group, PER_RECORD)]
            found = [(f, t) for v, t in asked for f in self._findings(v, group, t, about)]
            window = [_unknown(about)] if records is None else []
            told = (*group.gate, *(f for f, _ in found), *window)
            verdict = combine(dict.fromkeys(told))
            lacks = _lacks(found, group, about)
            yield _nearness(verdict, lacks, group, number), group, verdict, lacks

    def _findings(
        self, variable: Variable, group: Group, test: TestedJoint | Pqr, about: JointClass
    ) -> tuple[Finding, ...]:
        adopted = id(group.held.adopted)
        value = variable.of_test(group, test)
        key = (variable.name, isinstance(test, Pqr), adopted, value, about.id)
        known = self._found.get(key)
        if known is None:
            known = self._found[key] = tuple(variable.judge(group, test, about))
        return known


def _by_halves(run: Run, state: Callable[[JointClass], int]) -> Iterator[tuple[int, int]]:
    """Yield masks with their state along a run; equal ends of a stretch settle all between."""
    answers: dict[int, int] = {}

    def at(place: int) -> int:
        if place not in answers:
            answers[place] = state(run[place][1])
        return answers[place]

    waiting = [(0, len(run) - 1)]
    while waiting:
        low, high = waiting.pop()
        if at(low) == at(high):
            mask = 0
            for own, _ in run[low : high + 1]:
                mask |= own
            yield mask, at(low)
        else:
            middle = (low + high) // 2
            waiting += [(low, middle), (middle + 1, high)]


def _worst(first: Masks, *others: Masks) -> Masks:
    one, two, three = first
    for a, b, c in others:
        one, two, three = one | a, two | b, three | c
    return one, two, three


def _best(first: Masks, second: Masks) -> Masks:
    return first[0] & second[0], first[1] & second[1], first[2] & second[2]


def _of(group: Group, variables: Iterable[Variable]) -> Iterator[Variable]:
    """Yield the questions that an adopted edition asks of a procedure's record."""
    for variable in variables:
        rule = variable.name.partition(":")[0]
        if not rule.startswith("variable.") or group.held.adopted.has(rule):
            yield variable


def _lacks(
    found: Iterable[tuple[Finding, TestedJoint | Pqr]], group: Group, about: JointClass
) -> tuple[Lack, ...]:
    """Return what is missing, the worst excess of each rule once."""
    worst: dict[str, Lack] = {}
    for finding, test in found:
        lack = lack_of(finding, group, test, about)
        if lack is not None and (finding.rule not in worst or lack.by > worst[finding.rule].by):
            worst[finding.rule] = lack
    return tuple(worst.values())


def _nearness(verdict: Verdict, lacks: Sequence[Lack], group: Group, number: int) -> _Key:
    """Order options: by state, then once rules are confirmed, then fewest failing, least excess."""
    failing = len(lacks) + sum(1 for f in group.gate if state_of(f) > OPEN)
    excess = sum((lack.by for lack in lacks), Fraction(0))
    confirmed = _ORDER[verdict.before_confirmation]
    return (state_of(verdict), confirmed, failing, excess, group.held.id, number)


def _nobody(person: str, about: JointClass, unread: str) -> Finding:
    """Return the answer for somebody without a passed joint that can be reckoned with."""
    subject = Subject("joint", about.id)
    if unread:
        told = Message("cover.unread", held=unread)
        return Finding("range.no_test", subject, Outcome.UNDETERMINED, told, why=Why.NEEDS_DATA)
    told = Message("cover.nothing_held", person=person)
    return Finding("range.no_test", subject, Outcome.NOT_MET, told)


def _unknown(about: JointClass) -> Finding:
    told = Message("cover.procedure_unknown", procedure=about.procedure)
    return Finding(
        "overlap.procedure_floor",
        Subject("joint", about.id),
        Outcome.UNDETERMINED,
        told,
        why=Why.NEEDS_DATA,
    )


def newly_lost(now: Cover, later: Cover, person: str) -> int:
    """Return the classes that a person covers now and no longer later, as bits."""
    return ~now.states(person)[0] & later.states(person)[0] & now._all


__all__ = ["FAILED", "Cover", "groups_of", "newly_lost"]
