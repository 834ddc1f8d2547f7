"""One question to several editions: equal, open, refused, differing and unread answers."""

from __future__ import annotations

from lapwright.core.messages import Message
from lapwright.core.outcomes import Outcome, Subject, Why
from lapwright.rules.asking import Question, Ruling, held_until_confirmed
from lapwright.rules.rulebook import Rule
from unit.rules.examining import AWS, BARE, BOTH, IX, NONE, short

FACE = Subject("face", "F")
CRACK = "section.crack"
SAID = Message("crack.none", face="F")


def by_code(**outcomes: Outcome):
    """Return a judge that answers by the code of the rule."""

    def judge(rule: Rule) -> Ruling:
        outcome = outcomes[rule.code[:3]]
        why = Why.HOLD if outcome is Outcome.UNDETERMINED else None
        return Ruling(outcome, Message(f"said.{rule.code[:3]}"), why, rule.code, "limit")

    return judge


def test_equal_answers_are_one_finding_with_both_citations() -> None:
    finding = Question(CRACK, FACE, BOTH).answer(by_code(asm=Outcome.MET, aws=Outcome.MET))
    assert finding.outcome is Outcome.MET
    assert len(finding.cites) == 2


def test_one_refusal_beside_another_answer_is_a_conflict_to_be_acted_on_strictly() -> None:
    for other in (Outcome.MET, Outcome.UNDETERMINED):
        finding = Question(CRACK, FACE, BOTH).answer(by_code(asm=other, aws=Outcome.NOT_MET))
        assert short(finding) == ("undetermined", "conflict", "rules.differ")
        assert finding.act_on is Outcome.NOT_MET
        shown = dict(finding.message.params)["answers"]
        assert "not-met" in shown
        assert ("hold" if other is Outcome.UNDETERMINED else ": met") in shown


def test_two_refusals_are_a_refusal() -> None:
    finding = Question(CRACK, FACE, BOTH).answer(by_code(asm=Outcome.NOT_MET, aws=Outcome.NOT_MET))
    assert (finding.outcome, finding.act_on) == (Outcome.NOT_MET, None)


def test_an_edition_that_leaves_it_open_keeps_it_open() -> None:
    finding = Question(CRACK, FACE, BOTH).answer(by_code(asm=Outcome.MET, aws=Outcome.UNDETERMINED))
    assert (finding.outcome, finding.why) == (Outcome.UNDETERMINED, Why.HOLD)
    assert finding.message.id == "said.aws"


def test_a_rule_without_an_edition_or_without_text_is_unread() -> None:
    assert short(Question(CRACK, FACE, NONE).answer(by_code())) == (
        "undetermined",
        "unread",
        "rules.no_text",
    )
    unread = Question("position.covers", FACE, AWS).answer(by_code(aws=Outcome.MET))
    assert short(unread) == ("undetermined", "unread", "rules.no_text")


def test_memory_alone_gives_no_unqualified_answer_but_keeps_what_it_computed() -> None:
    for outcome in (Outcome.MET, Outcome.NOT_MET):
        finding = Question(CRACK, FACE, BARE).answer(by_code(asm=outcome))
        assert (finding.outcome, finding.why) == (Outcome.UNDETERMINED, Why.UNCONFIRMED)
        assert finding.computed is outcome


def test_an_answer_that_leans_on_an_unconfirmed_rule_is_unconfirmed_too() -> None:
    ask = Question("absent", FACE, BARE, also=(CRACK,))
    assert ask.cites()[0].needs_confirming


def test_only_an_unconfirmed_met_becomes_a_hold() -> None:
    met = Question(CRACK, FACE, BARE).answer(by_code(asm=Outcome.MET))
    assert (held_until_confirmed(met).why, held_until_confirmed(met).computed) == (
        Why.HOLD,
        Outcome.MET,
    )
    refused = Question(CRACK, FACE, BARE).answer(by_code(asm=Outcome.NOT_MET))
    assert held_until_confirmed(refused) is refused
    confirmed = Question(CRACK, FACE, IX).answer(by_code(asm=Outcome.MET))
    assert held_until_confirmed(confirmed) is confirmed


def test_missing_and_unknown_words_need_data_and_name_the_field() -> None:
    ask = Question(CRACK, FACE, IX)
    assert ask.lacks(a="x", b=("y",)) is None
    for empty in (None, "", ()):
        fault = ask.lacks(a="x", b=empty)
        assert fault is not None
        assert short(fault) == ("undetermined", "needs-data", "rules.missing")
        assert dict(fault.message.params)["field"] == "b"
    assert ask.unclear("seen", "yes", ("yes", "no")) is None
    missing = ask.unclear("seen", "", ("yes", "no"))
    other = ask.unclear("seen", "maybe", ("yes", "no"))
    assert missing is not None
    assert other is not None
    assert (short(missing)[2], short(other)[2]) == ("rules.missing", "rules.word")


def test_a_hold_and_a_need_for_data_carry_the_citations() -> None:
    ask = Question(CRACK, FACE, BOTH)
    for finding, why in ((ask.hold(SAID), Why.HOLD), (ask.needs(SAID), Why.NEEDS_DATA)):
        assert (finding.why, len(finding.cites)) == (why, 2)


def test_further_rules_answer_beside_the_first() -> None:
    ask = Question("absent", FACE, BOTH)
    finding = ask.answer(by_code(asm=Outcome.MET, aws=Outcome.MET), across=(CRACK,))
    assert finding.computed is Outcome.MET
