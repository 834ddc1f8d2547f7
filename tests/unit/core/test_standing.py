"""Which acts stand: corrections, corrections of corrections, voids, two times, time zones."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any

import pytest

from lapwright.core.acts import Act
from lapwright.core.errors import (
    ActFinal,
    ActRefused,
    CorrectionMoved,
    DateRefused,
    LapwrightError,
    NamedActUnknown,
    VoidedAct,
    ZoneRefused,
)
from lapwright.core.standing import check_filing, programme_zone, standing
from lapwright.core.times import end_of_day

from .acting import AS_OF, act, fix, trained, void


def said(acts: Iterable[Act], *, as_of: date = AS_OF, **more: Any) -> list[str]:
    """Return what the trainings that stand say."""
    return [s.act.body["what"] for s in standing(acts, as_of=as_of, **more)]


A = trained("torch")
B = trained("purge")
PURGE, FEED = {"person": "ines", "what": "purge"}, {"person": "ines", "what": "feed"}


def test_of_two_corrections_the_one_written_later_counts() -> None:
    one, two = fix(A, PURGE), fix(A, FEED)
    assert said([A, one, two]) == ["feed"]
    assert said([A, two, one]) == ["purge"]


def test_the_order_in_the_log_decides_and_not_the_day_of_the_correction() -> None:
    early = fix(A, FEED, on="2026-03-05")
    late = fix(A, PURGE, on="2026-03-20")
    assert said([A, late, early]) == ["feed"]


def test_a_correction_of_a_correction_says_what_holds() -> None:
    one = fix(A, PURGE)
    two = fix(one, {**one.body, "body": FEED, "reason": "the other word"})
    assert said([A, one, two]) == ["feed"]
    assert said([A, one, two, void(two)]) == ["purge"]


def test_a_voided_correction_leaves_what_stood_before_it() -> None:
    one, two = fix(A, PURGE), fix(A, FEED)
    assert said([A, one, two, void(two)]) == ["purge"]
    assert said([A, one, two, void(two), void(one)]) == ["torch"]


def test_a_void_takes_the_act_out_with_its_corrections() -> None:
    assert said([A, B, fix(A, FEED), void(A)]) == ["purge"]


def test_a_void_wins_over_a_correction_written_behind_it() -> None:
    assert said([A, void(A), fix(A, FEED)]) == []


def test_a_voided_void_gives_the_act_back_with_its_correction() -> None:
    gone = void(A)
    assert said([A, fix(A, FEED), gone, void(gone)]) == ["feed"]


def test_the_same_bytes_written_again_behind_a_void_stand() -> None:
    assert said([A, void(A), A]) == ["torch"]
    assert said([A, A, void(A)]) == []


def test_a_correction_may_move_the_day_on_which_it_happened() -> None:
    moved = fix(A, dict(A.body), happened_on="2026-03-20")
    assert said([A, moved], as_of=date(2026, 3, 19)) == []
    assert said([A, moved], as_of=date(2026, 3, 20)) == ["torch"]
    assert said([A, moved], as_of=date(2026, 3, 19), known_by=date(2026, 3, 4)) == ["torch"]


def test_a_correction_may_move_the_moment_and_changes_no_file() -> None:
    at = datetime(2026, 3, 4, 7, tzinfo=UTC)
    body = {"person": "ines", "what": "torch"}
    first = Act("TrainingGiven", body, date(2026, 3, 4), "lead", at, at, files=("f" * 64,))
    moved = fix(first, dict(first.body), happened_at="2026-03-04T09:30:00-06:00")
    (found,) = standing([first, moved], as_of=AS_OF)
    assert found.act.happened_at == datetime(2026, 3, 4, 15, 30, tzinfo=UTC)
    assert (found.act.files, found.sha256, found.fix) == (first.files, first.sha256, moved)


def test_a_correction_gives_the_version_of_its_bodys_shape() -> None:
    limits = {"max_bias": "0.01"}
    body = {"method": "face-trace/1", "faces": "40", "limits": limits}
    old = Act("MethodChecked", body, date(2026, 1, 9), "lead", datetime(2026, 1, 9, tzinfo=UTC))
    again = {**body, "figures": {"bias": "0.001"}, "by": "lead", "readings_sha256": "a"}
    (kept,) = standing([old, fix(old, {**body, "faces": "41"})], as_of=AS_OF)
    assert (kept.act.version, kept.act.body["faces"], kept.act.body["by"]) == (2, "41", "")
    (lifted,) = standing([old, fix(old, again, version="2")], as_of=AS_OF)
    assert (lifted.act.version, lifted.act.body["by"]) == (2, "lead")


def test_what_a_correction_says_is_known_from_the_day_it_was_written() -> None:
    late = fix(A, FEED, on="2026-03-05", written="2026-03-09")
    assert said([A, late], known_by=date(2026, 3, 8)) == ["torch"]
    assert said([A, late], known_by=date(2026, 3, 9)) == ["feed"]


def test_a_correction_speaks_of_every_day_asked_about() -> None:
    late = fix(A, FEED, on="2026-03-25")
    assert said([A, late], as_of=date(2026, 3, 4)) == ["feed"]


@pytest.mark.parametrize("change", [fix(A, FEED), void(A)])
def test_a_change_of_an_unknown_act_is_refused(change: Act) -> None:
    for acts in ([change], [change, A], [B, change]):
        with pytest.raises(NamedActUnknown, match=r"not in its stream before it.*CORE-011"):
            standing(acts, as_of=AS_OF)
    with pytest.raises(NamedActUnknown):
        check_filing([B], [change])


def test_a_change_stands_in_the_stream_of_what_it_names() -> None:
    body = {"voids": A.sha256, "reason": "x"}
    away = act("ActVoided", body, "2026-03-05", stream="programme")
    with pytest.raises(NamedActUnknown, match="stream 'programme'"):
        standing([A, away], as_of=AS_OF)


def test_a_change_of_what_was_written_after_the_day_changes_nothing_by_then() -> None:
    later = trained("torch", written="2026-03-20")
    change = fix(later, FEED, written="2026-03-06")  # a clock that went wrong
    assert said([later, change], known_by=date(2026, 3, 10)) == []
    assert said([later, change]) == ["feed"]


@pytest.mark.parametrize("change", [fix(A, FEED), void(A)])
def test_a_change_of_a_voided_act_is_refused_when_it_is_filed(change: Act) -> None:
    with pytest.raises(VoidedAct, match=r"voided.*CORE-012"):
        check_filing([A, void(A, reason="first")], [change])
    check_filing([A, void(A, reason="first"), A], [change])  # written again behind the void


def test_a_correction_that_names_another_act_is_refused() -> None:
    one = fix(A, FEED)
    with pytest.raises(CorrectionMoved, match=r"another act.*CORE-013"):
        standing([A, B, one, fix(one, {**one.body, "corrects": B.sha256})], as_of=AS_OF)
    gone = void(A)
    with pytest.raises(CorrectionMoved):
        standing([A, gone, fix(gone, {"reason": "says nothing of what"})], as_of=AS_OF)
    reasoned = fix(gone, {"voids": A.sha256, "reason": "a better reason"})
    assert said([A, gone, reasoned]) == []


@pytest.mark.parametrize(
    ("type_", "body"),
    [
        ("NumberTaken", {"register": "1", "record": "R", "revision": "1"}),
        ("RecordSigned", {"record": "R", "revision": "1", "file_sha256": "a"}),
        ("NameRemoved", {"name_commitment": "a", "reason": "asked"}),
        ("KeyChanged", {"key": "a", "becomes": "b", "reason": "lost"}),
        ("LedgerClosed", {"reason": "moved"}),
    ],
)
def test_what_has_left_the_ledger_is_not_undone(type_: str, body: dict[str, str]) -> None:
    final = act(type_, body, "2026-03-04")
    for change in (void(final), fix(final, body)):
        with pytest.raises(ActFinal, match=r"nothing can undo.*CORE-014"):
            standing([final, change], as_of=AS_OF)
        with pytest.raises(ActFinal):
            check_filing([final], [change])


@pytest.mark.parametrize(
    ("change", "refusal"),
    [
        (fix(A, {"person": "ines"}), ActRefused),
        (fix(A, FEED, happened_on="4 March"), DateRefused),
        (fix(A, FEED, happened_at="noon"), DateRefused),
        (fix(A, FEED, version="9"), ActRefused),
        (fix(A, FEED, version="new"), ActRefused),
    ],
)
def test_a_correction_that_does_not_fit_is_refused_when_it_is_filed(
    change: Act, refusal: type[LapwrightError]
) -> None:
    with pytest.raises(refusal):
        check_filing([A], [change])
    with pytest.raises(refusal):
        standing([A, change], as_of=AS_OF)


def test_several_changes_are_filed_at_once_in_their_order() -> None:
    one = fix(A, PURGE)
    check_filing([A], [B, one, void(one), fix(A, FEED)])
    with pytest.raises(NamedActUnknown):
        check_filing([A], [void(one), one])


def basis(zone: str, written: str) -> Act:
    """Return a basis that names a zone."""
    body = {"editions": ["x"], "decision_rule": "simple", "options": {"zone": zone}}
    return act("BasisAdopted", body, "2026-01-05", written, stream="programme")


# Outside witness: the zones' offsets on these days as the IANA database gives them, and the
# arithmetic of UTC by hand. 2026-03-08 is the day on which clocks in Chicago go to summer time.
@pytest.mark.parametrize(
    ("day", "zone", "end"),
    [
        ("2026-03-13", "", "2026-03-14T00:00:00+00:00"),
        ("2026-03-07", "America/Chicago", "2026-03-08T06:00:00+00:00"),
        ("2026-03-08", "America/Chicago", "2026-03-09T05:00:00+00:00"),
        ("2026-03-13", "Asia/Tokyo", "2026-03-13T15:00:00+00:00"),
        ("2026-03-13", "Asia/Kolkata", "2026-03-13T18:30:00+00:00"),
        ("9999-12-31", "Asia/Tokyo", "9999-12-31T23:59:59.999999+00:00"),
    ],
)
def test_a_day_ends_at_midnight_of_its_zone(day: str, zone: str, end: str) -> None:
    assert end_of_day(date.fromisoformat(day), zone).isoformat() == end


@pytest.mark.parametrize("zone", ["Mars/Olympus", "../etc/passwd", "America", "a\0b"])
def test_a_zone_that_nobody_knows_is_refused(zone: str) -> None:
    with pytest.raises(ZoneRefused, match=r"no such time zone.*CORE-015"):
        end_of_day(date(2026, 3, 13), zone)


def test_known_by_ends_in_the_zone_of_the_basis() -> None:
    evening = trained("torch", written="2026-03-05T04:30:00+00:00")  # 4 March, 22:30 in Chicago
    adopted = basis("America/Chicago", "2026-01-05")
    day = date(2026, 3, 4)
    assert len(standing([evening], as_of=AS_OF, known_by=day)) == 0
    assert len(standing([adopted, evening], as_of=AS_OF, known_by=day)) == 2
    assert len(standing([adopted, evening], as_of=AS_OF, known_by=day, zone="UTC")) == 1


def test_a_zone_named_later_does_not_move_the_end_of_an_earlier_day() -> None:
    first = basis("America/Chicago", "2026-01-05")
    second = basis("Asia/Tokyo", "2026-03-05")
    assert programme_zone([first, second], date(2026, 3, 4)) == "America/Chicago"
    assert programme_zone([first, second], date(2026, 3, 5)) == "Asia/Tokyo"
    assert programme_zone([second], date(2026, 3, 4)) == ""
    evening = basis("America/Chicago", "2026-01-06T03:00:00+00:00")
    assert programme_zone([evening], date(2026, 1, 5)) == "America/Chicago"


def test_a_zone_first_named_later_does_not_move_the_end_of_an_earlier_day() -> None:
    """10 March ends at midnight UTC while no basis names a zone; Chicago is named at 03:00."""
    plain = basis("", "2026-03-10T15:00:00+00:00")
    entry = trained("torch", written="2026-03-11T01:00:00+00:00")
    later = basis("America/Chicago", "2026-03-11T03:00:00+00:00")
    day = date(2026, 3, 10)
    assert len(standing([plain, entry], as_of=AS_OF, known_by=day)) == 1
    assert len(standing([plain, entry, later], as_of=AS_OF, known_by=day)) == 1
    assert programme_zone([plain, entry, later], date(2026, 3, 11)) == "America/Chicago"


def test_a_zone_further_east_takes_nothing_back_from_the_day_on_which_it_is_named() -> None:
    """10 March is over at 15:00 UTC in Tokyo, which is named an hour after that."""
    plain = basis("", "2026-03-10T09:00:00+00:00")
    entry = trained("torch", written="2026-03-10T15:30:00+00:00")
    later = basis("Asia/Tokyo", "2026-03-10T16:00:00+00:00")
    assert programme_zone([plain, entry, later], date(2026, 3, 10)) == ""
    assert programme_zone([plain, entry, later], date(2026, 3, 11)) == "Asia/Tokyo"
