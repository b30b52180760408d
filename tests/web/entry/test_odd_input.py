"""What no form should send, and a laptop that cannot store: a sentence each time, and nothing lost."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import date
from urllib.parse import urlencode

import pytest
from browser_team import HOSTILE
from web.entry.conftest import PairedSite, words

from bevelbook.records import KINDS
from bevelbook.records.joins import NOT_IN_A_FORM
from bevelbook.store import opening
from bevelbook.store.ids import new_id

IDEA = "/team/-/enter/idea"
EVIL = '"><script>document.title="owned"</script>{{7*7}}'


def test_hostile_text_in_every_field_is_shown_as_text(paired_site: PairedSite) -> None:
    for kind in KINDS:
        if not kind.own or kind.name in NOT_IN_A_FORM or kind.from_file is not None:
            continue
        typed = {field.name: EVIL for field in kind.fields}
        answer = paired_site.post(f"/team/-/enter/record/{kind.name}", {"key": new_id(), **typed})
        assert answer.status_code in (303, 400), kind.name
        page = answer.text if answer.status_code == 400 else paired_site.page(answer.headers["location"])
        assert "<script>document" not in page, kind.name
        assert "{{7*7}}" in page or "&#34;&gt;&lt;script" in page, kind.name
    forged = {
        "answer.build": EVIL,
        "sure": EVIL,
        "was.build": EVIL,
        "take.mass_g": EVIL,
        EVIL: EVIL,
        "form.version": EVIL,
    }
    page = paired_site.post("/team/-/enter/weigh", {"key": EVIL, **forged}).text
    assert "<script>document" not in page


def test_text_of_any_length_and_bytes_of_any_kind_get_a_sentence(paired_site: PairedSite) -> None:
    for text in (
        HOSTILE,
        "a\x00b",
        "\ud800".encode("utf-16", "surrogatepass").decode("utf-16", "replace"),
        "é" * 100_000,
    ):
        answer = paired_site.post(IDEA, {"key": new_id(), "text": text})
        assert answer.status_code in (303, 400)
        if answer.status_code == 303:
            assert paired_site.get(answer.headers["location"]).status_code == 200
    raw = urlencode({"csrftoken": paired_site.token, "key": new_id()}).encode() + b"&text=%ED%A0%80&venue=%00\xff\xfe"
    kind = {"content-type": "application/x-www-form-urlencoded"}
    answer = paired_site.post(IDEA, None, data=None, content=raw, headers=kind)
    assert answer.status_code == 400, answer.status_code
    many = paired_site.post(IDEA, {f"field{number}": "x" for number in range(5_000)})
    assert many.status_code == 400
    assert "more fields than a form has" in words(many.text)


def test_what_was_typed_stays_while_another_program_holds_the_database(
    paired_site: PairedSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opening, "_connect", connect_without_patience)
    form = {"key": new_id(), "text": "softer in front"}
    with closing(sqlite3.connect(paired_site.team.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = paired_site.post(IDEA, form)
        assert answer.status_code == 400
        assert "Database is locked by another program" in words(answer.text)
        assert "What you typed is still here: try again" in words(answer.text)
        assert "softer in front" in answer.text
        assert form["key"] in answer.text
        other.execute("ROLLBACK")
    paired_site.send(IDEA, form)
    assert paired_site.rows("SELECT count(*) FROM ideas WHERE text = 'softer in front'") == [(1,)]


def test_what_was_typed_stays_where_the_disk_is_full(paired_site: PairedSite, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(path: object, busy_seconds: float) -> sqlite3.Connection:
        connection = connect(path, busy_seconds)
        (pages,) = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {pages}")
        return connection

    connect = opening._connect
    form = {"key": new_id(), "text": "long " * 20_000}
    with monkeypatch.context() as without_room:
        without_room.setattr(opening, "_connect", full)
        answer = paired_site.post(IDEA, form)
    assert answer.status_code == 400
    assert "The disk is full. Make room and try again." in words(answer.text)
    assert "long long" in answer.text
    paired_site.send(IDEA, form)


def test_a_clock_behind_the_newest_entry_is_asked_about(paired_site: PairedSite) -> None:
    with closing(sqlite3.connect(paired_site.team.path, isolation_level=None)) as other:
        other.execute("UPDATE entries SET made_at = '2031-05-04T10:00:00.000Z'")
    form = {"key": new_id(), "build": "rear-a", "mass_g": "22.37"}
    answer = paired_site.post("/team/-/enter/weigh", form)
    assert answer.status_code == 400
    assert "but the newest entry is from 2031-05-04" in words(answer.text)
    assert "Set the clock right and store it again." in words(answer.text)
    assert 'name="answer.weighed_on" value="clock"' in answer.text
    paired_site.send("/team/-/enter/weigh", {**form, "answer.weighed_on": "clock"})
    assert paired_site.rows("SELECT weighed_on FROM weighings WHERE mass_g = 22.37") == [(date.today().isoformat(),)]
    dated = {"key": new_id(), "build": "rear-a", "mass_g": "22.36", "weighed_on": "2026-05-02"}
    paired_site.send("/team/-/enter/weigh", dated)


def test_a_clock_before_the_newest_entry_is_asked_about_once_a_day(paired_site: PairedSite) -> None:
    with closing(sqlite3.connect(paired_site.team.path, isolation_level=None)) as other:
        other.execute("UPDATE entries SET made_at = '2031-05-04T10:00:00.000Z'")
    assert paired_site.post(IDEA, {"key": new_id(), "text": "one"}).status_code == 400
    paired_site.send(IDEA, {"key": new_id(), "text": "one", "answer.noted_on": "clock"})
    paired_site.send(IDEA, {"key": new_id(), "text": "two"})
    another = paired_site.paired_with(paired_site.entry.phones.add("green phone", "bo").phone)
    answer = another.post(IDEA, {"key": new_id(), "text": "three"})
    assert answer.status_code == 400, "each phone is asked"
    assert "correct its day on the page of its record, or take it back on the laptop." in words(answer.text)


@pytest.mark.parametrize("entries", [19, 20])
def test_a_clock_far_after_the_newest_entry_is_asked_about_in_a_book_written_to_often(
    paired_site: PairedSite, entries: int
) -> None:
    with closing(sqlite3.connect(paired_site.team.path, isolation_level=None)) as other:
        (there,) = other.execute("SELECT count(*) FROM entries").fetchone()
        for number in range(entries - there):
            other.execute(
                "INSERT INTO entries (id, made_at, asked) VALUES (?, ?, 'x')",
                (new_id(), f"2020-05-04T10:00:{number:02}.000Z"),
            )
        other.execute("UPDATE entries SET made_at = replace(made_at, substr(made_at, 1, 4), '2020')")
    form = {"key": new_id(), "rear": "rear-a", "rear_temp_c": "50", "run_on": "2027-12-31"}
    answer = paired_site.post("/team/-/enter/run", form)
    assert ("days after the newest entry" in words(answer.text)) == (entries == 20)
    if entries == 20:
        assert answer.status_code == 400
        assert 'name="answer.clock" value="clock"' in answer.text
        assert not paired_site.rows("SELECT 1 FROM runs WHERE run_on = '2027-12-31'")
        paired_site.send(IDEA, {"key": new_id(), "text": "one", "answer.clock": "clock"})
        paired_site.send(IDEA, {"key": new_id(), "text": "two"})


def test_a_form_that_stayed_open_past_midnight_asks_which_day_it_is_of(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "build": "rear-a", "mass_g": "22.37", "shown.day": "2026-05-03"}
    answer = paired_site.post("/team/-/enter/weigh", form)
    assert answer.status_code == 400
    assert "This form was opened when the day was 3 May 2026" in words(answer.text)
    assert 'name="shown.day" value="2026-05-03"' in answer.text
    paired_site.send("/team/-/enter/weigh", {**form, "answer.weighed_on": "2026-05-03"})
    assert paired_site.rows("SELECT weighed_on FROM weighings WHERE mass_g = 22.37") == [("2026-05-03",)]


def connect_without_patience(path: object, busy_seconds: float) -> sqlite3.Connection:
    connection = sqlite3.connect(str(path), timeout=0.0, isolation_level=None)
    connection.row_factory = sqlite3.Row
    return connection


def test_a_name_too_long_for_one_is_refused_in_words(paired_site: PairedSite) -> None:
    for kind, field in (("person", "name"), ("car", "name"), ("diff", "label"), ("venue", "name"), ("fluid", "label")):
        answer = paired_site.post(f"/team/-/enter/record/{kind}", {"key": new_id(), field: "n" * 201})
        assert answer.status_code == 400, kind
        assert "name of 201 letters; it may have 200" in words(answer.text), kind
        assert "n" * 201 in answer.text, "what was typed is kept"


def test_a_day_before_anybody_raced_is_asked_about_once(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "text": "softer", "noted_on": "0001-01-01"}
    answer = paired_site.post(IDEA, form)
    assert answer.status_code == 400
    assert "0001-01-01 is before 1970. Is that right?" in words(answer.text)
    paired_site.send(IDEA, {**form, "sure": "noted_on=0001-01-01"})
    assert paired_site.rows("SELECT noted_on FROM ideas WHERE text = 'softer'") == [("0001-01-01",)]
