"""A printed run sheet typed in: each line one run and one entry, and nothing typed is lost."""

from __future__ import annotations

import html
import re
from typing import Any

from entered import EnteredSite

PAGE = "/team/-/enter/sheet"
DAY = "2026-05-17"


def shown(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def form_of(page: str) -> dict[str, str]:
    """What the form of the sheet sends as it is drawn."""
    body = page.partition('class="entry-form"')[2].partition("</form>")[0]
    found = dict.fromkeys(re.findall(r'<select id="[^"]*" name="([^"]+)"', body), "")
    for tag in re.findall(r"<input\b[^>]*>", body):
        name, value = (re.search(rf' {part}="([^"]*)"', tag) for part in ("name", "value"))
        if name:
            found[name[1]] = html.unescape(value[1]) if value else ""
    for name, options in re.findall(r'(?s)<select id="[^"]*" name="([^"]+)".*?>(.*?)</select>', body):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = chosen[1] if chosen else ""
    return found


def opened(site: EnteredSite) -> dict[str, str]:
    """The sheet of the day as it is drawn, with the diffs of all lines named where the team has no car."""
    form = form_of(site.page(f"{PAGE}?day={DAY}"))
    return form | {"head.rear": "rear-a", "head.venue": "Tannery Hall"}


def runs(site: EnteredSite) -> list[tuple[object, ...]]:
    return site.rows(
        "SELECT r.label, r.best_lap_s, x.diff_temp_c, x.after_run_s, r.call, r.note FROM runs r "
        "LEFT JOIN run_diffs x ON x.run = r.id WHERE r.run_on = ? ORDER BY r.label, x.id",
        DAY,
    )


def test_each_line_is_a_run_and_an_entry_of_its_own(paired_site: EnteredSite) -> None:
    (before,) = paired_site.rows("SELECT count(*) FROM entries")[0]
    form = opened(paired_site) | {
        "1.rear_temp_c": "38,5",
        "1.rear_after_s": "2",
        "1.best_lap_s": "14.2",
        "1.call": "keep",
        "2.best_lap_s": "14.4",
        "2.note": "looser",
    }
    page = paired_site.send(PAGE, form)
    assert runs(paired_site) == [
        (f"{DAY}/1", 14.2, 38.5, 120.0, "keep", None),
        (f"{DAY}/2", 14.4, None, None, None, "looser"),
    ]
    (after,) = paired_site.rows("SELECT count(*) FROM entries")[0]
    assert after == before + 2
    assert "2026-05-17/2" in shown(page)
    assert "Take it back" in shown(page)
    assert 'class="sheet-line here" id="line-3"' in page
    assert re.findall(r'name="([^"]+)"[^>]* autofocus', page) == ["3.rear_temp_c"], "a line goes on without a tap"


def test_what_cannot_be_read_stays_beside_its_cell_and_the_other_lines_are_stored(paired_site: EnteredSite) -> None:
    form = opened(paired_site) | {"1.best_lap_s": "fast<b>", "1.note": "ä “quoted”", "2.best_lap_s": "14.4"}
    answer = paired_site.post(PAGE, form)
    assert answer.status_code == 400
    assert [row[1] for row in runs(paired_site)] == [14.4]
    again = form_of(answer.text)
    assert (again["2.best_lap_s"], again["2.note"]) == ("fast<b>", "ä “quoted”"), "the stored run comes first"
    assert "fast<b>" not in answer.text
    assert "1 line stored." in shown(answer.text)
    paired_site.send(PAGE, again | {"2.best_lap_s": "14.6"})
    assert [row[1:2] + row[5:] for row in runs(paired_site)] == [(14.4, None), (14.6, "ä “quoted”")]


def test_a_stored_line_is_shown_and_corrected(paired_site: EnteredSite) -> None:
    paired_site.send(PAGE, opened(paired_site) | {"1.rear_temp_c": "38", "1.rear_after_s": "2", "1.note": "looser"})
    form = form_of(paired_site.page(f"{PAGE}?day={DAY}"))
    assert (form["1.rear_temp_c"], form["1.rear_after_s"], form["1.note"]) == ("38", "2", "looser")
    (before,) = paired_site.rows("SELECT count(*) FROM entries")[0]
    paired_site.send(PAGE, form)
    assert paired_site.rows("SELECT count(*) FROM entries") == [(before,)], "nothing new was said"
    paired_site.send(PAGE, form | {"1.rear_after_s": "3", "1.note": ""})
    assert runs(paired_site) == [(f"{DAY}/1", None, 38.0, 180.0, None, None)]


def test_a_sheet_sent_twice_is_stored_once_and_one_gone_back_to_is_corrected(paired_site: EnteredSite) -> None:
    form = opened(paired_site) | {"1.best_lap_s": "14.2"}
    paired_site.send(PAGE, form)
    assert paired_site.post(PAGE, form).status_code == 303
    assert len(runs(paired_site)) == 1
    answer = paired_site.post(PAGE, form | {"1.best_lap_s": "14.3"})
    assert answer.status_code == 400
    assert f"This line is stored already as run {DAY}/1" in shown(answer.text)
    paired_site.send(PAGE, form_of(answer.text))
    assert [row[1] for row in runs(paired_site)] == [14.3]


def test_two_phones_that_change_one_cell_are_asked_which_is_right(paired_site: EnteredSite) -> None:
    paired_site.send(PAGE, opened(paired_site) | {"1.best_lap_s": "14.2", "1.note": "looser"})
    form, other = (form_of(paired_site.page(f"{PAGE}?day={DAY}")) for _ in range(2))
    paired_site.send(PAGE, other | {"1.best_lap_s": "14.3"})
    answer = paired_site.post(PAGE, form | {"1.best_lap_s": "14.4", "1.call": "keep"})
    assert answer.status_code == 400
    assert "wrote 14.3" in shown(answer.text)
    assert "you typed 14.4" in shown(answer.text)
    assert [row[1] for row in runs(paired_site)] == [14.3]
    paired_site.send(PAGE, form_of(answer.text) | {"1.was.best_lap_s": "14.3"})
    assert runs(paired_site) == [(f"{DAY}/1", 14.4, None, None, "keep", "looser")]


def test_a_value_far_off_asks_once(paired_site: EnteredSite) -> None:
    answer = paired_site.post(PAGE, opened(paired_site) | {"1.rear_temp_c": "180"})
    assert answer.status_code == 400
    assert "Yes, that is right" in shown(answer.text)
    form = form_of(answer.text) | {"1.sure": "rear_temp_c=180"}
    paired_site.send(PAGE, form)
    assert [row[2] for row in runs(paired_site)] == [180.0]


def test_what_only_a_person_knows_is_asked_and_answered_in_the_line(paired_site: EnteredSite) -> None:
    """The diff was opened on that day: the run may have been before."""
    form = form_of(paired_site.page(f"{PAGE}?day=2026-04-02")) | {"head.rear": "rear-a"}
    answer = paired_site.post(PAGE, form | {"2.best_lap_s": "14.2"})
    assert answer.status_code == 400
    way = re.search(r'name="(\d\.answer\.rear)" value="(before-opening)"', answer.text)
    said = shown(answer.text)
    assert way is not None, said[:2000]
    assert said.count("rear-a was opened on 2026-04-02 and not built since, so it was apart when this run was.") == 2
    assert (", found" in said, "Rear-a" in said) == (False, False), "a name stays as it is written"
    paired_site.send(PAGE, form_of(answer.text) | {way[1]: way[2]})
    assert paired_site.rows(
        "SELECT b.label FROM runs r JOIN run_diffs x ON x.run = r.id JOIN builds b ON b.id = x.build "
        "WHERE r.run_on = '2026-04-02'"
    ) == [("rear-a/1",)]


def test_a_name_in_the_head_that_is_not_known_stops_the_lines_and_is_said_at_both(paired_site: EnteredSite) -> None:
    form = opened(paired_site) | {"head.venue": "Tanery <i>Hall", "1.best_lap_s": "14.2"}
    answer = paired_site.post(PAGE, form)
    assert answer.status_code == 400
    assert runs(paired_site) == []
    assert shown(answer.text).casefold().count("no venue") == 2, shown(answer.text)
    assert "<i>Hall" not in answer.text
    again = form_of(answer.text)
    assert (again["head.venue"], again["1.best_lap_s"]) == ("Tanery <i>Hall", "14.2")
    paired_site.send(PAGE, again | {"head.venue": "Tannery Hall"})
    assert [row[1] for row in runs(paired_site)] == [14.2]


def test_a_remark_of_several_lines_keeps_them(paired_site: EnteredSite) -> None:
    """A browser takes the ends of lines out of an input of one line."""
    paired_site.send(PAGE, opened(paired_site) | {"1.note": "loose in\r\nthe hairpin"})
    page = paired_site.page(f"{PAGE}?day={DAY}")
    assert re.search(r'<textarea id="field-1.note"[^>]*>loose in\nthe hairpin</textarea>', page)
    paired_site.send(PAGE, form_of(page) | {"1.note": "loose in\r\nthe hairpin", "1.call": "keep"})
    assert [row[4:] for row in runs(paired_site)] == [("keep", "loose in\nthe hairpin")]


def test_two_lines_alike_are_two_runs(paired_site: EnteredSite) -> None:
    paired_site.send(PAGE, opened(paired_site) | {"1.call": "keep", "2.call": "keep"})
    assert [row[4] for row in runs(paired_site)] == ["keep", "keep"]


def test_a_line_of_an_older_page_comes_back_with_all_that_was_typed(paired_site: EnteredSite) -> None:
    old = {"1.form.version": "an older one", "1.note": "looser", "1.tyre_wear": "even"}
    answer = paired_site.post(PAGE, opened(paired_site) | old)
    assert answer.status_code == 400
    assert runs(paired_site) == []
    assert "Typed as tyre_wear, which this page no longer has: even" in shown(answer.text)
    assert form_of(answer.text)["1.note"] == "looser"


def test_a_line_whose_run_was_removed_meanwhile_keeps_its_words(paired_site: EnteredSite) -> None:
    paired_site.send(PAGE, opened(paired_site) | {"1.best_lap_s": "14.2"})
    form = form_of(paired_site.page(f"{PAGE}?day={DAY}"))
    (entry,) = paired_site.rows("SELECT id FROM entries ORDER BY rowid DESC LIMIT 1")[0]
    assert paired_site.post("/team/-/enter/take-back", {"entry": entry}).status_code < 400
    answer = paired_site.post(PAGE, form | {"1.note": "looser"})
    assert answer.status_code == 400
    assert "was removed meanwhile by ana" in shown(answer.text)
    assert form_of(answer.text)["1.note"] == "looser"


def test_a_temperature_without_a_diff_is_not_stored_and_stays(paired_site: EnteredSite) -> None:
    form = form_of(paired_site.page(f"{PAGE}?day=2026-01-17"))
    answer = paired_site.post(PAGE, form | {"1.rear_temp_c": "38"})
    assert answer.status_code == 400
    assert form_of(answer.text)["1.rear_temp_c"] == "38"


def test_the_diffs_of_all_lines_are_those_of_the_run_before_and_are_shown(paired_site: EnteredSite) -> None:
    paired_site.send(PAGE, opened(paired_site) | {"1.best_lap_s": "14.2"})
    page = paired_site.page(f"{PAGE}?day={DAY}")
    assert f"rear-a, as in run {DAY}/1" in shown(page)
    paired_site.send(PAGE, form_of(page) | {"2.best_lap_s": "14.4"})
    assert paired_site.rows(
        "SELECT r.label, b.label FROM runs r JOIN run_diffs x ON x.run = r.id JOIN builds b ON b.id = x.build "
        "WHERE r.run_on = ? ORDER BY r.label",
        DAY,
    ) == [(f"{DAY}/1", "rear-a/2"), (f"{DAY}/2", "rear-a/2")]


def test_it_is_a_page_of_paired_phones_alone(paired_site: EnteredSite) -> None:
    assert paired_site.paired_with(None).get(PAGE).status_code == 403


def test_nothing_typed_or_sent_makes_a_fault_of_the_program(paired_site: EnteredSite) -> None:
    for name, text in (
        ("1.note", "x" * 200_000),
        ("1.best_lap_s", "\x00"),
        ("1.grip", "<script>alert(1)</script>"),
        ("head.venue", "\x00"),
        ("1.run", "not an id"),
        ("1.key", "'"),
        ("line", "9" * 20_000),
    ):
        answer = paired_site.post(PAGE, opened(paired_site) | {"2.call": "keep", name: text})
        assert answer.status_code in (303, 400), (name, answer.status_code)
        assert "<script>alert" not in answer.text
    assert paired_site.post(PAGE, {f"{number}.note": "a" for number in range(5_000)}).status_code == 400
    for asked in ("day=2026-99-99", "car=%00", "line=0"):
        answer = paired_site.get(f"{PAGE}?{asked}")
        assert (answer.status_code, asked[:3] in answer.text) == (400, True)


def two_sheets(site: EnteredSite, first: dict[str, str], second: dict[str, str]) -> Any:
    """The answer to the second of two sheets that were opened at the same time."""
    one, other = opened(site), opened(site)
    site.send(PAGE, one | first)
    return site.post(PAGE, other | second)


def answer_to(page: str, words: str) -> dict[str, str]:
    """The form of a page with the button pressed that has these words."""
    buttons = re.findall(r'<button[^>]* name="([^"]+)" value="([^"]*)"[^>]*>(.*?)</button>', page)
    name, value = next((name, value) for name, value, said in buttons if words in shown(said))
    return form_of(page) | {name: html.unescape(value)}


def test_two_phones_with_the_same_line_are_asked_and_nothing_is_doubled(paired_site: EnteredSite) -> None:
    line = {"1.rear_temp_c": "61", "1.best_lap_s": "14.2"}
    answer = two_sheets(paired_site, line, line)
    assert answer.status_code == 400
    assert f"run {DAY}/1 by ana (rear temp 61 °C, best lap 14.2 s)" in shown(answer.text)
    assert len(runs(paired_site)) == 1
    unanswered = paired_site.post(PAGE, form_of(answer.text))
    assert unanswered.status_code == 400, "it is asked until it is answered"
    assert paired_site.post(PAGE, answer_to(unanswered.text, "The same run")).status_code == 303
    assert len(runs(paired_site)) == 1


def test_the_same_run_with_other_numbers_shows_both(paired_site: EnteredSite) -> None:
    line = {"1.rear_temp_c": "61", "1.best_lap_s": "14.2"}
    answer = two_sheets(paired_site, line, {"1.rear_temp_c": "63", "1.best_lap_s": "14.2", "1.note": "looser"})
    answer = paired_site.post(PAGE, answer_to(answer.text, "The same run"))
    assert "wrote 61" in shown(answer.text)
    assert "you typed 63" in shown(answer.text)
    paired_site.send(PAGE, form_of(answer.text) | {"1.was.rear_temp_c": "61"})
    assert [row[1:3] + row[5:] for row in runs(paired_site)] == [(14.2, 63.0, "looser")]


def test_another_run_than_the_one_stored_meanwhile_is_stored_too(paired_site: EnteredSite) -> None:
    answer = two_sheets(paired_site, {"1.best_lap_s": "14.2"}, {"1.best_lap_s": "14.6", "2.best_lap_s": "14.8"})
    answer = paired_site.post(PAGE, answer_to(answer.text, "Another run"))
    assert answer.status_code == 400, "the second line is asked about too"
    assert [row[1] for row in runs(paired_site)] == [14.2, 14.6]
    paired_site.send(PAGE, answer_to(answer.text, "Another run"))
    assert [row[1] for row in runs(paired_site)] == [14.2, 14.6, 14.8]


def test_a_sheet_without_its_hidden_fields_is_shown_again_with_what_was_typed(paired_site: EnteredSite) -> None:
    form = {name: text for name, text in opened(paired_site).items() if not name.endswith(".key")}
    answer = paired_site.post(PAGE, form | {"2.best_lap_s": "14.2"})
    assert answer.status_code == 400
    assert "this page is from before an update" in shown(answer.text).lower()
    assert runs(paired_site) == []
    paired_site.send(PAGE, form_of(answer.text))
    assert [row[1] for row in runs(paired_site)] == [14.2]


def test_nothing_beside_something_that_was_changed_stops_its_line_alone(paired_site: EnteredSite) -> None:
    form = opened(paired_site) | {"1.changed": "nothing, tyres", "1.best_lap_s": "14.2", "2.best_lap_s": "14.4"}
    answer = paired_site.post(PAGE, form)
    assert answer.status_code == 400
    assert "“nothing” is chosen, and something else is there too" in shown(answer.text)
    assert [row[1] for row in runs(paired_site)] == [14.4]
