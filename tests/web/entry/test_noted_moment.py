"""When an entry was noted that waited on a phone: two clocks that agree, one that was changed, ages that cannot be."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from bevelbook.entering.defaults import day_of
from bevelbook.web.entry.noted_moment import NotedMoment, noted_in
from bevelbook.web.shared.typed_form import TypedForm

NOON = datetime(2026, 5, 3, 12).astimezone()
"""Noon of the clock on the wall, so that hours around it are of one day wherever the tests run."""
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0


def stamp(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def form_of(drawn: datetime | str, since_s: object, waited_s: object, **more: str) -> TypedForm:
    texts = {
        "waited.drawn_at": drawn if isinstance(drawn, str) else stamp(drawn),
        "waited.since_drawn_s": str(since_s),
        "waited.s": str(waited_s),
        **more,
    }
    return TypedForm({name: [text] for name, text in texts.items()})


def days_offered(noted: NotedMoment) -> list[str]:
    assert noted.question is not None
    assert noted.question.what.endswith("Which day was it?")
    return [way.key for way in noted.question.answers]


def ago(seconds: float) -> datetime:
    return NOON - timedelta(seconds=seconds)


def test_an_entry_without_a_word_of_waiting_is_of_now() -> None:
    assert noted_in(TypedForm({"text": ["x"]}), stamp(NOON)) == NotedMoment(stamp(NOON), stamp(NOON))
    after = noted_in(TypedForm({"text": ["x"], "waited.after": ["one", "two"]}), stamp(NOON))
    assert (after.has_waited, after.at, after.after) == (False, stamp(NOON), ("one", "two"))


def test_an_entry_that_was_sent_at_once_is_of_now_whatever_the_clocks_said_before() -> None:
    for drawn in (ago(HOUR), ago(20 * DAY), NOON + timedelta(days=2)):
        noted = noted_in(form_of(drawn, HOUR, 0.2), stamp(NOON))
        assert (noted.at, noted.has_waited, noted.question, noted.words) == (stamp(NOON), False, None, "")


def test_where_both_agree_it_was_noted_then_and_the_history_says_so() -> None:
    noted = noted_in(form_of(ago(3 * HOUR), 3 * HOUR - 80 * MINUTE, 80 * MINUTE), stamp(NOON))
    assert noted.at == stamp(ago(80 * MINUTE))
    assert noted.words == ", noted 10:40, waited on the phone 1 h 20 min"
    assert noted.is_certain
    a_day = noted_in(form_of(ago(26 * HOUR), HOUR, 25 * HOUR), stamp(NOON))
    assert a_day.day == "2026-05-02"
    assert a_day.words == ", noted 2026-05-02 11:00, waited on the phone 1 day 1 h"


def test_a_moment_just_ahead_of_the_laptop_is_now() -> None:
    assert noted_in(form_of(ago(HOUR), HOUR + 60, 30), stamp(NOON)).at == stamp(NOON)


def test_a_clock_that_was_changed_within_the_day_is_said() -> None:
    """The phone's clock was put forward by an hour while the entry waited: what was measured before is right."""
    noted = noted_in(form_of(ago(2 * HOUR), HOUR, 2 * HOUR), stamp(NOON))
    assert noted.at == stamp(ago(HOUR))
    assert not noted.is_certain
    assert noted.question is None
    assert noted.words.endswith(", a clock was changed meanwhile")


def test_a_phone_off_by_three_days_and_put_right_while_it_waited_is_asked_about() -> None:
    """It was noted an hour ago; the phone was three days late, so that it counts three days and an hour."""
    form = form_of(ago(2 * HOUR), HOUR, 3 * DAY + HOUR)
    noted = noted_in(form, stamp(NOON))
    assert days_offered(noted) == ["2026-04-30", "2026-05-03"]
    answered = TypedForm({**form.texts, "answer.noted": ["2026-05-03"]})
    assert noted_in(answered, stamp(NOON)).at == stamp(ago(HOUR))
    other = TypedForm({**form.texts, "answer.noted": ["2026-04-30"]})
    assert noted_in(other, stamp(NOON)).at == stamp(ago(3 * DAY + HOUR))
    assert days_offered(noted_in(TypedForm({**form.texts, "answer.noted": ["2026-01-01"]}), stamp(NOON)))


def test_a_phone_three_days_ahead_and_put_right_gives_an_age_below_nothing_and_is_asked_about() -> None:
    noted = noted_in(form_of(ago(2 * HOUR), HOUR, HOUR - 3 * DAY), stamp(NOON))
    assert days_offered(noted) == ["2026-05-03"]


def test_a_laptop_whose_clock_was_put_right_meanwhile_is_asked_about() -> None:
    """The laptop was two days late when it drew the page; or it is late now, and the page was drawn in days to come."""
    late = noted_in(form_of(ago(2 * DAY + 2 * HOUR), HOUR, HOUR), stamp(NOON))
    assert days_offered(late) == ["2026-05-01", "2026-05-03"]
    ahead = noted_in(form_of(NOON + timedelta(days=2), HOUR, HOUR), stamp(NOON))
    assert days_offered(ahead) == ["2026-05-03"]


@pytest.mark.parametrize(
    ("since_s", "waited_s"),
    [(-60.0, HOUR), (HOUR, -60.0), (15 * DAY, HOUR), (HOUR, 15 * DAY), ("soon", "later"), ("nan", HOUR), ("1e400", 20)],
)
def test_ages_that_cannot_be_are_asked_about(since_s: object, waited_s: object) -> None:
    noted = noted_in(form_of(ago(2 * HOUR), since_s, waited_s), stamp(NOON))
    assert "2026-05-03" in days_offered(noted)


def test_over_fourteen_days_on_both_clocks_is_asked_about() -> None:
    noted = noted_in(form_of(ago(15 * DAY + HOUR), HOUR, 15 * DAY), stamp(NOON))
    assert days_offered(noted) == ["2026-05-03"]
    assert noted_in(form_of(ago(13 * DAY + HOUR), HOUR, 13 * DAY), stamp(NOON)).day == "2026-04-20"


def test_a_day_that_was_typed_is_not_asked_about() -> None:
    noted = noted_in(form_of(ago(2 * HOUR), HOUR, 3 * DAY + HOUR), stamp(NOON), "2026-05-01")
    assert noted.question is None


def test_a_form_drawn_again_with_a_question_keeps_its_moment_however_long_it_is_looked_at() -> None:
    form = form_of(ago(2 * HOUR), HOUR, HOUR, **{"waited.after": "one"})
    noted = noted_in(form, stamp(NOON))
    later = stamp(NOON + timedelta(minutes=40))
    drawn_again = TypedForm({name: [text] for name, text in noted.unseen})
    again = noted_in(drawn_again, later)
    assert (again.at, again.after, again.has_waited, again.is_certain) == (noted.at, ("one",), True, True)
    asked = noted_in(form_of(ago(2 * HOUR), HOUR, 3 * DAY + HOUR), stamp(NOON))
    answered = TypedForm({**{name: [text] for name, text in asked.unseen}, "answer.noted": ["2026-05-03"]})
    assert day_of(noted_in(answered, later).at) == "2026-05-03"


@pytest.mark.parametrize("since", ["8e13", "inf", "nan", "-1", "", "x"])
@pytest.mark.parametrize("waited", ["8e13", "1e309", "nan", "-1", "", "x"])
@pytest.mark.parametrize(
    "drawn_at",
    [
        "2026-11-26T19:30:00.000Z",
        "9999-12-31T23:59:59Z",
        "0001-01-01T00:00:00Z",
        "x",
        "9999-12-31T23:59:59-14:00",
        "0001-01-01T00:00:00+14:00",
    ],
)
def test_whatever_stands_there_instead_of_times_is_asked_about(since: str, waited: str, drawn_at: str) -> None:
    texts = {"waited.since_drawn_s": [since], "waited.s": [waited], "waited.drawn_at": [drawn_at]}
    noted = noted_in(TypedForm(texts), stamp(NOON))
    assert noted.question is not None
    assert not noted.is_certain
    again = noted_in(TypedForm({name: [text] for name, text in noted.unseen}), stamp(NOON))
    assert days_offered(again) == days_offered(noted)


@pytest.mark.parametrize("edge", ["9999-12-31T23:59:59-14:00", "0001-01-01T00:00:00+14:00"])
def test_a_moment_that_no_calendar_has_in_utc_is_asked_about_also_in_a_form_drawn_again(edge: str) -> None:
    noted = noted_in(TypedForm({"waited.forward": [edge], "waited.back": [edge]}), stamp(NOON))
    assert days_offered(noted) == ["2026-05-03"]
