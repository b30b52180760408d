"""The page of the rejected rows of an imported file: mended, brought in, or back with what was typed."""

from __future__ import annotations

import html
import io
import re
from contextlib import closing

from browser_team import HOSTILE
from entered import EnteredSite

from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.settings import Settings
from bevelbook.plugin.registry import Registry
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.opening import open_for_writing
from bevelbook.taking_back.take_back import take_back

PAGE = "/team/-/enter/rejected"
HEADING = "date,builder,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,grip,note\n"
SEASON = f"""{HEADING}2024-02-13,ana,M1,21.30,1.35,22.65,7000,high,fine
14/02/2024x,ana,M1,21.30,1.35,22.65,7000,high,slip in the day
2024-02-15,ana,M1,21.30,ca. 1.36,22.66,7000,high,slip in the oil
2024-02-16,ana,M1,21.30,1.35,22.65,7.000,high,dot
2024-02-17,ana,M1,21.30,1.35,22.65,7000,grippy,word
2024-02-19,ana,M1,21.30,1.35,23.65,7000,high,masses
"""
"""Invented."""
BUILDS = "SELECT built_on, oil_mass_g, viscosity_cst FROM builds WHERE note_file IS NOT NULL ORDER BY built_on, id"


def words(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def bring_file(site: EnteredSite, text: str, name: str = "season.csv") -> str:
    """Import a file as a command does; its id."""
    path = site.team.path
    with closing(open_for_writing(path)) as connection:
        (report,) = import_all(io.BytesIO(text.encode()), name, connection, path, Settings(), by="ana", asked="import")
    assert report.note_file, report.message
    return report.note_file


class ShownForm:
    """The form of the page as a browser would send it."""

    def __init__(self, page: str) -> None:
        page = page.partition('class="entry-form"')[2]
        self.fields: dict[str, str | list[str]] = {}
        lines = re.findall(r'name="row" value="([^"]+)"><input type="hidden" name="line\.[^"]+" value="(\d+)"', page)
        self.ids = {int(line): row for row, line in lines}
        for tag in re.findall(r"<input [^>]*>", page):
            name, value = re.search(r'name="([^"]+)"', tag), re.search(r'value="([^"]*)"', tag, re.DOTALL)
            if name is not None and ('type="radio"' not in tag or " checked" in tag):
                self.fields[html.unescape(name[1])] = html.unescape(value[1]) if value else ""
        del self.fields["csrftoken"]
        self.fields["row"] = list(self.ids.values())

    @property
    def lines(self) -> list[int]:
        return list(self.ids)

    def typed(self, line: int, place: int, text: str) -> ShownForm:
        name = f"cell.{self.ids[line]}.{place}"
        assert name in self.fields
        self.fields[name] = text
        return self

    def chosen(self, line: int, place: int, value: str) -> ShownForm:
        self.fields[f"take.{self.ids[line]}.{place}"] = value
        return self


def form_of(site: EnteredSite, file: str, **given: object) -> ShownForm:
    asked = "&".join(f"{name}={value}" for name, value in given.items())
    return ShownForm(site.page(f"{PAGE}/{file}?{asked}"))


def open_lines(site: EnteredSite, file: str) -> list[int]:
    still = "note_file = ? AND status = 'rejected' AND closed_by IS NULL"
    return [row[0] for row in site.rows(f"SELECT line FROM note_rejects WHERE {still} ORDER BY line, id", file)]


def test_each_row_says_why_and_offers_what_its_reason_allows(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, SEASON)
    page = paired_site.page(f"{PAGE}/{file}")
    shown = words(page)
    assert 'Line 3 Date is "14/02/2024x": not a date in any known form; wanted a day such as 2026-05-03.' in shown
    assert 'Line 4 Oil mass is "ca. 1.36": a value with an uncertainty or a tolerance' in shown
    assert (
        'Viscosity is "7.000": viscosity of 7 cSt is outside 50 to 2000000 cSt. Correct it. Viscosity 7000 cSt' in shown
    )
    assert "It is right: take it as it is As written below" in shown
    assert "wanted one of low, medium, high. Grip low medium high As written below" in shown
    assert "21.3 g dry and 1.35 g of oil make 22.65 g, not 23.65 g. Correct the one that is wrong. Dry mass g" in shown
    assert "--" not in shown
    assert "The whole row: 2024-02-15, ana, M1, 21.30, 22.66, 7000, high, slip in the o…" in shown
    oil = re.search(r'<input [^>]*name="cell\.[^"]+\.4" value="ca\. 1\.36"[^>]*>', page)
    assert oil is not None
    assert 'inputmode="decimal"' in oil[0]


def test_what_is_right_goes_in_and_what_is_still_wrong_stays_as_typed(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, SEASON)
    form = form_of(paired_site, file).typed(3, 0, "2024-02-14").typed(4, 4, "about 1.4").chosen(5, 6, "=7000")
    form.chosen(6, 7, "=high")
    answer = paired_site.post(f"{PAGE}/{file}", form.fields)
    assert answer.status_code == 400
    assert "3 rows brought in." in words(answer.text)
    assert "Not brought in: line 4" in words(answer.text)
    again = ShownForm(answer.text)
    assert again.lines == [4, 7]
    assert again.fields[f"cell.{again.ids[4]}.4"] == "about 1.4"
    assert open_lines(paired_site, file) == [4, 7]
    entries = paired_site.rows("SELECT made_by, asked FROM entries WHERE asked LIKE 'from the browser%'")
    assert entries == [("ana", "from the browser: rejected rows of season.csv, mended")]
    shown = paired_site.send(f"{PAGE}/{file}", again.typed(4, 4, "1,36").typed(7, 5, "22.65").fields)
    assert "All rows of this file are in." in words(shown)
    assert "Take it back" in shown
    assert paired_site.rows(BUILDS) == [
        (f"2024-02-{day}", oil, 7000.0)
        for day, oil in ((13, 1.35), (14, 1.35), (15, 1.36), (16, 1.35), (17, 1.35), (19, 1.35))
    ]


def test_what_was_chosen_stays_where_another_cell_is_wrong_too(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, f"{HEADING}2024-02-14,ana,M1,21.30,1.35,23.65,7000,grippy,two slips\n")
    form = form_of(paired_site, file).chosen(2, 7, "=high")
    again = ShownForm(paired_site.post(f"{PAGE}/{file}", form.fields).text)
    assert again.fields[f"cell.{again.ids[2]}.7"] == "high"
    assert "All rows" in paired_site.send(f"{PAGE}/{file}", again.typed(2, 5, "22.65").fields)


def test_sent_twice_it_is_stored_once(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, SEASON)
    form = form_of(paired_site, file).typed(3, 0, "2024-02-14").typed(4, 4, "soon")
    first, second = (paired_site.post(f"{PAGE}/{file}", form.fields) for _ in range(2))
    assert [words(one.text).count("1 row brought in.") for one in (first, second)] == [1, 1]
    assert ShownForm(first.text).lines == ShownForm(second.text).lines == [4, 5, 6, 7]
    assert len(paired_site.rows(BUILDS)) == 2
    assert len(paired_site.rows("SELECT id FROM note_files")) == 2


def test_gone_back_to_with_another_row_that_one_is_stored_too(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, SEASON)
    form = form_of(paired_site, file).typed(3, 0, "2024-02-14")
    assert paired_site.post(f"{PAGE}/{file}", form.fields).status_code == 303
    assert paired_site.post(f"{PAGE}/{file}", form.typed(4, 4, "1.36").fields).status_code == 303
    assert open_lines(paired_site, file) == [5, 6, 7]
    assert len(paired_site.rows(BUILDS)) == 3


def test_gone_back_to_and_changed_it_says_what_came_first(paired_site: EnteredSite) -> None:
    """Also where that was the last row of the file."""
    file = bring_file(paired_site, f"{HEADING}2024-02-15,ana,M1,21.30,ca. 1.36,22.66,7000,high,one slip\n")
    form = form_of(paired_site, file)
    assert paired_site.post(f"{PAGE}/{file}", form.typed(2, 4, "1.36").fields).status_code == 303
    assert paired_site.post(f"{PAGE}/{file}", form.fields).status_code == 303, "the same twice is nothing new"
    answer = paired_site.post(f"{PAGE}/{file}", form.typed(2, 4, "1.63").typed(2, 5, "22.93").fields)
    said = words(answer.text)
    assert (answer.status_code, "brought in." in said) == (400, False)
    assert re.search(
        r"Line 2: you brought it in at \d\d:\d\d with Oil mass 1\.36, you typed 1\.63; Total mass 22", said
    )
    assert "What came first is in: correct it on its own page, or take it back. " in said
    assert paired_site.rows(BUILDS) == [("2024-02-15", 1.36, 7000.0)]


def test_nothing_is_guessed_where_a_cell_is_both_chosen_and_typed(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, SEASON)
    form = form_of(paired_site, file).typed(6, 7, "low").chosen(6, 7, "=high")
    answer = paired_site.post(f"{PAGE}/{file}", form.fields)
    assert "You chose high and typed low: choose “As written below”, or take out what you typed." in words(answer.text)
    assert open_lines(paired_site, file) == [3, 4, 5, 6, 7]
    assert ShownForm(answer.text).fields[f"cell.{form.ids[6]}.7"] == "low"
    nothing = paired_site.post(f"{PAGE}/{file}", form_of(paired_site, file).fields)
    assert nothing.status_code == 400
    assert "Nothing was changed yet: choose or type what is right" in words(nothing.text)


def test_a_value_out_of_range_is_taken_where_it_is_right(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, SEASON)
    paired_site.send(f"{PAGE}/{file}", form_of(paired_site, file).chosen(5, 6, "!").typed(3, 0, "2024-02-14").fields)
    assert paired_site.rows(BUILDS)[1:] == [("2024-02-14", 1.35, 7000.0), ("2024-02-16", 1.35, 7.0)]
    assert len(paired_site.rows("SELECT id FROM entries WHERE asked LIKE 'from the browser%'")) == 1


def test_what_another_phone_mended_meanwhile_is_said(paired_site: EnteredSite) -> None:
    file = bring_file(paired_site, SEASON)
    other = paired_site.paired_with(paired_site.entry.phones.add("blue phone", "ben").phone)
    mine, same, late = (form_of(paired_site, file) for _ in range(3))
    other.send(f"{PAGE}/{file}", form_of(other, file).typed(4, 4, "1.36").fields)
    answer = paired_site.post(f"{PAGE}/{file}", mine.typed(4, 4, "1.40").typed(3, 0, "2024-02-14").fields)
    assert answer.status_code == 400
    said = words(answer.text)
    assert "1 row brought in." in said
    assert re.search(
        r"Line 4: ben brought it in at \d\d:\d\d with Oil mass 1\.36, you typed 1\.40\. What ben wrote is in", said
    )
    assert open_lines(paired_site, file) == [5, 6, 7]
    # of the same correction twice nothing is said but that it is in, of a row only looked at nothing
    again = paired_site.post(f"{PAGE}/{file}", same.typed(4, 4, "1.36").fields)
    assert (again.status_code, "What you sent is in already." in words(again.text)) == (200, True)
    assert paired_site.post(f"{PAGE}/{file}", late.typed(6, 7, "low").fields).status_code == 303
    assert len(paired_site.rows(BUILDS)) == 4


def test_of_a_file_taken_back_meanwhile_what_was_typed_is_there_to_copy(
    paired_site: EnteredSite, registry: Registry
) -> None:
    file = bring_file(paired_site, SEASON)
    form = form_of(paired_site, file).typed(4, 4, "<b>1.36</b>")
    with closing(open_for_writing(paired_site.team.path)) as connection:
        book = EntryBook(connection)
        (entry,) = connection.execute("SELECT entry FROM note_files WHERE id = ?", (file,)).fetchone()
        take_back(connection, paired_site.team.path, [book.by_id[entry]], registry, asked="a test", by="ana")
    answer = paired_site.post(f"{PAGE}/{file}", form.fields)
    assert answer.status_code == 400
    assert "it was taken back, or never was here. Nothing was stored." in words(answer.text)
    assert "<b>1.36" not in answer.text
    assert "line 4: Date: 2024-02-15" in words(answer.text)
    assert "Oil mass: <b>1.36</b>" in words(answer.text)
    assert paired_site.get(f"{PAGE}/{file}").status_code == 404


def test_five_hundred_rows_are_pages_of_twenty(paired_site: EnteredSite) -> None:
    rows = "".join(f"2024-02-3{n % 2},ana,M1,21.30,1.35,22.65,7000,high,row {n}\n" for n in range(500))
    file = bring_file(paired_site, HEADING + rows)
    assert form_of(paired_site, file).lines == list(range(2, 22))
    page = paired_site.page(f"{PAGE}/{file}?at=3")
    assert ShownForm(page).lines == list(range(42, 62))
    assert "500 rows of this file were not taken." in words(page)
    assert "Rows before from line 22 More rows from line 62" in words(page)
    form = ShownForm(page)
    for line in form.lines:
        form.typed(line, 0, "2024-03-01")
    paired_site.send(f"{PAGE}/{file}?at=3", form.fields)
    assert len(open_lines(paired_site, file)) == 480
    assert form_of(paired_site, file, at=99).lines[-1] == 501
    refused = paired_site.get(f"{PAGE}/{file}?at=<i>")
    assert (refused.status_code, "at=&lt;i&gt;" in refused.text) == (400, True)


def test_any_text_of_a_file_is_shown_as_text(paired_site: EnteredSite) -> None:
    evil = HOSTILE[:300]
    cell = '"' + evil.replace('"', '""') + '"'
    file = bring_file(
        paired_site,
        f'date,diff,grip,{cell}\n2024-02-14,M1,{cell},{cell}\nsoon,M1,high,"two\nlines"\n',
        "<script>document.title=1</script>.csv",
    )
    page = paired_site.page(f"{PAGE}/{file}")
    assert "<script>document" not in page
    assert "<img" not in page
    form = ShownForm(page)
    # a cell of two lines is a field of two lines, and not changed by being sent
    form.fields[f"cell.{form.ids[3]}.3"] = "two\r\nlines"
    paired_site.send(f"{PAGE}/{file}", form.typed(2, 2, "high").typed(3, 0, "2024-02-15").fields)
    assert open_lines(paired_site, file) == []


def test_pages_lead_to_it_where_one_may_write(paired_site: EnteredSite) -> None:
    assert "No row is left to mend." in words(paired_site.page(PAGE))
    file = bring_file(paired_site, SEASON)
    address = f"{PAGE}/{file}"
    assert f'href="{PAGE}">5 rows</a>' in paired_site.page("/")
    assert "season.csv 5 rejected rows" in words(paired_site.page("/team/-/enter/to-finish"))
    assert f'href="{address}"' in paired_site.page("/team/-/enter/to-finish")
    assert "season.csv 5 rows to mend" in words(paired_site.page(PAGE))
    assert f'href="{address}">mend its rejected rows' in paired_site.page(f"/team/note_files/{file}")
    stranger = paired_site.paired_with(None)
    assert stranger.get(address).status_code == 403
    assert "mend its rejected rows" not in stranger.page(f"/team/note_files/{file}")
    assert PAGE not in stranger.page("/")
    assert paired_site.get(f"{PAGE}/nothing").status_code == 404
