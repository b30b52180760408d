"""A file of notes brought in by a page: its questions one at a time, what would come in, and what is stored.

All cells are invented. What a sheet means is tested with the importer; here the page gives it the same answers as a
terminal would.
"""

from __future__ import annotations

import asyncio
import io
import re
from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from browser_team import make_team
from entered import entered_site
from web.entry.conftest import PairedSite, words

from bevelbook.plugin.registry import Registry
from bevelbook.web.entry import waiting_files as waiting
from bevelbook.web.entry.import_look import LARGEST_UNPACKED, MOST_LINES
from bevelbook.web.entry.waiting_files import MOST_BYTES

IMPORT = "/team/-/enter/import"
PLAIN = "date,diff,dry mass,oil mass\n2026-04-03,K-01,12.5,2.1\n2026-04-04,K-02,12.6,2.2\n"
TEMPERATURES = "date,diff,oil mass,track temp,air temp\n2026-04-03,K-01,2.1,40,20\n"
FILES = "SELECT name, accepted, rejected FROM note_files ORDER BY read_at, id"


class Bringing:
    """A phone at the page, which goes where the answers lead."""

    def __init__(self, site: PairedSite) -> None:
        self.site = site
        self.text = ""
        self.address = IMPORT
        self.status = 0

    def choose(self, content: str | bytes, name: str = "season.csv", **form: str) -> Bringing:
        """Choose a file and send it."""
        raw = content.encode() if isinstance(content, str) else content
        return self._follow(self.site.post(IMPORT, {"choose": "yes", **form}, files={"file": (name, raw)}))

    def answer(self, words_of_button: str) -> Bringing:
        """Press the button with these words, as the form around it has it."""
        for form in re.findall(r'<form method="post"[^>]*?enter/import.*?</form>', self.text, re.DOTALL):
            for button in re.findall(r"<button[^>]*>.*?</button>", form, re.DOTALL):
                if words(button) == words_of_button:
                    return self.send(form, button)
        raise AssertionError(f"no button {words_of_button!r}: {words(self.text)}")

    def typed(self, text: str) -> Bringing:
        """Type an answer that is not listed."""
        form = next(one for one in re.findall(r"<form.*?</form>", self.text, re.DOTALL) if 'name="typed"' in one)
        return self.send(form, '<button name="answer" value="typed">', typed=text)

    def send(self, form: str, button: str, **typed: str) -> Bringing:
        fields = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', form))
        name, value = re.findall(r'name="([^"]+)" value="([^"]*)"', button)[0]
        sent = {key: unescape(text) for key, text in fields.items() if key != "csrftoken"}
        return self._follow(self.site.post(IMPORT, {**sent, name: value, **typed}))

    def open(self, address: str) -> Bringing:
        """Open an address, as the back button does."""
        return self._follow(self.site.get(address))

    def _follow(self, answer: Any) -> Bringing:
        while answer.status_code == 303:
            self.address = answer.headers["location"]
            answer = self.site.get(self.address)
        self.status = answer.status_code
        self.text = answer.text
        return self

    @property
    def words(self) -> str:
        return words(self.text.replace("\N{NO-BREAK SPACE}", " "))


@pytest.fixture
def bring(paired_site: PairedSite) -> Bringing:
    return Bringing(paired_site)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[PairedSite]:
    """A site for files of which nothing is stored."""
    folder = tmp_path_factory.mktemp("import")
    with entered_site(make_team(folder / "team.db"), registry, folder / "settings") as made:
        yield made


@pytest.fixture
def refused(site: PairedSite) -> Iterator[Bringing]:
    yield Bringing(site)
    assert site.rows(FILES) == []


def test_a_profile_that_is_known_by_name_is_chosen_with_the_file(bring: Bringing) -> None:
    """Of a German sheet with a heading of its own nothing is asked that the profile says."""
    assert '<option value="german">Sheets in German</option>' in bring.open(IMPORT).text
    sheet = "Datum;Diff;Leergewicht;Ölmenge\n14.02.2026;K-01;12,5;2,1\n"
    bring.choose(sheet, profile="germna")
    assert bring.status == 400 and 'There is no profile named "germna". Did you mean german?' in bring.words
    bring.choose(sheet, profile="german")
    assert "1 line read: 1 to bring in, 0 rejected, 0 skipped." in bring.words
    bring.answer("Bring them in")
    assert bring.site.rows("SELECT built_on, dry_mass_g FROM builds WHERE dry_mass_g = 12.5") == [("2026-02-14", 12.5)]


def test_a_file_without_questions_is_looked_at_and_then_stored_once(bring: Bringing) -> None:
    bring.choose(PLAIN)
    assert "2 lines read: 2 to bring in, 0 rejected, 0 skipped." in bring.words
    assert "2 new: 2 builds. New diffs: K-01, K-02." in bring.words
    assert "2026-04-03, K-01" in bring.words
    assert bring.site.rows(FILES) == []
    looked_at = bring.text
    bring.answer("Bring them in")
    assert "Brought in" in bring.words
    assert "2 new: 2 builds" in bring.words
    assert "Take it back" in bring.words
    assert bring.site.rows(FILES) == [("season.csv", 2, 0)]
    bring.text = looked_at
    bring.answer("Bring them in")
    assert "This form is stored already; sending it again added nothing." in bring.words
    assert bring.site.rows(FILES) == [("season.csv", 2, 0)]


def test_questions_come_one_at_a_time_and_are_answered_by_buttons(bring: Bringing) -> None:
    bring.choose(TEMPERATURES)
    bring.answer("°F").answer("°C").answer("Bring them in")
    assert bring.site.rows("SELECT round(track_temp_c, 2), air_temp_c FROM runs WHERE note_file IS NOT NULL") == [
        (4.44, 20.0)
    ]


def test_an_answer_is_typed_where_none_is_listed_and_a_wrong_one_stays_to_be_corrected(bring: Bringing) -> None:
    bring.choose("date,diff,dry mass,Zeug,Rest\n2026-04-03,K-01,12.5,felt fine,x1\n")
    assert 'What is in the column "Zeug"?' in bring.words
    assert "For example felt fine" in bring.words
    bring.typed("zzz")
    assert bring.status == 400
    assert 'There is no field named "zzz"' in bring.words
    assert 'value="zzz"' in bring.text
    bring.typed("result note").answer("Leave the column out; its cells are kept beside the row").answer("Bring them in")
    assert bring.site.rows("SELECT note FROM builds WHERE note_file IS NOT NULL") == [("felt fine",)]


def test_a_year_is_typed(bring: Bringing) -> None:
    bring.choose("date,diff,dry mass,oil mass\n14 Feb,K-01,12.5,2.1\n").typed("19")
    assert (bring.status, "Choose one of the answers." in bring.words) == (400, True)
    bring.typed("2019").answer("Bring them in")
    assert bring.site.rows("SELECT built_on FROM builds WHERE note_file IS NOT NULL") == [("2019-02-14",)]


def test_none_of_these_leads_to_the_next_question_and_stopping_stores_nothing(bring: Bringing) -> None:
    bring.choose("date,dry mass,oil mass,Kisa\n2026-04-03,12.5,2.1,A-1\n")
    assert "Leave it open" not in bring.words, "the diff is needed"
    bring.answer("None of these")
    assert "Which diff is this sheet of?" in bring.words
    before = bring.address
    bring.typed("K-07").answer("Leave it open")
    assert "Left open What is in the column" in bring.words
    bring.answer("Stop: store nothing")
    assert "Nothing was stored of that file." in bring.words
    assert bring.site.rows(FILES) == []
    assert bring.open(before).status == 410


def workbook(**sheets: list[list[object]]) -> bytes:
    from openpyxl import Workbook

    book = Workbook()
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.remove(book.worksheets[0])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def test_the_sheets_of_a_workbook_are_buttons_and_their_names_may_be_the_diffs(bring: Bringing) -> None:
    heading: list[object] = ["Date", "Dry weight (g)", "Oil weight (g)"]
    book = workbook(K01=[heading, ["2026-04-03", 12.5, 2.1]], K02=[heading, ["2026-04-03", 13.5, 2.1]])
    bring.choose(book, "season.xlsx")
    assert "The sheet K01: Date, Dry weight (g), Oil weight (g)" in bring.words
    bring.answer("All of these, each as a part of its own").answer("Yes, they are rows of K01")
    assert bring.words.count("1 line read: 1 to bring in") == 2
    assert all(f"New diff: {label}." in bring.words for label in ("K01", "K02"))
    bring.answer("Bring them in")
    labels = "SELECT d.label FROM builds b JOIN diffs d ON d.id = b.diff WHERE b.note_file IS NOT NULL ORDER BY 1"
    assert bring.site.rows(labels) == [("K01",), ("K02",)]
    assert bring.site.rows("SELECT count(DISTINCT entry) FROM note_files") == [(1,)]


def test_a_sheet_of_other_things_is_said_not_to_be_read(refused: Bringing) -> None:
    heading: list[object] = ["Date", "Diff", "Oil weight (g)"]
    book = workbook(Notes=[heading, ["2026-04-03", "K-01", 2.1]], Oils=[["label", "viscosity"], ["7k", 7000]])
    refused.choose(book, "season.xlsx")
    assert "Not read: Oils. A sheet is read where it is not hidden and its headings are of notes" in refused.words


def test_a_sheet_with_headings_of_another_language_is_read_by_them(refused: Bringing) -> None:
    """The words are those of the bundled German profile."""
    refused.choose("Datum;Differential;Leergewicht;Ölmenge\n03.04.2026;K-01;12,5;2,1\n", "saison.csv")
    assert "The headings look German. Read the file by German headings?" in refused.words
    refused.answer("Yes, by German headings")
    assert "2026-04-03, K-01" in refused.words


ROWS = "date,diff,dry mass,oil mass,notes\n" + "".join(
    f"2026-04-{day:02},K-0{day},12.{day},2.1,run {day}\n" for day in range(1, 7)
)


def test_a_file_that_is_in_the_book_is_named_and_adds_nothing(bring: Bringing) -> None:
    bring.choose(ROWS).answer("Bring them in").choose(ROWS)
    assert "This file is in the book already. Bringing it in again adds nothing." in bring.words
    assert "season.csv: 6 rows came in, 0 rejected." in bring.words
    assert "Bring them in" not in bring.words
    bring.answer("Read another part of it, or with other answers")
    assert "This file is in the book already, as season.csv . Bringing it in adds nothing." in bring.words
    assert "0 new: no records; 6 known already." in bring.words
    assert "Bring them in" not in bring.words


@pytest.mark.parametrize(
    ("answers", "notes"),
    [
        (("Change the earlier rows",), ["run 1 and 2", "run 2 wet", "run 3"]),
        (("Leave them out",), ["run 1", "run 2", "run 3"]),
        (("Ask for each", "Change the earlier row", "Leave it out"), ["run 1 and 2", "run 2", "run 3"]),
    ],
)
def test_rows_that_look_like_earlier_ones_changed_are_asked_about(
    bring: Bringing, answers: tuple[str, ...], notes: list[str]
) -> None:
    bring.choose(ROWS).answer("Bring them in")
    bring.choose(ROWS.replace("run 1", "run 1 and 2").replace("run 2\n", "run 2 wet\n"))
    assert "2 rows look like earlier ones, changed. What is to be done with them?" in bring.words
    assert "2 rows have another result note" in bring.words
    for answer in answers:
        bring.answer(answer)
    bring.answer("Bring them in")
    found = bring.site.rows("SELECT note FROM builds WHERE note_file IS NOT NULL ORDER BY built_on, id")
    assert [note for (note,) in found[:3]] == notes
    assert len(found) == 6


def test_a_kept_file_that_reads_otherwise_now_can_be_read_again(bring: Bringing) -> None:
    bring.choose(TEMPERATURES).answer("Leave it open").answer("Leave it open").answer("Bring them in")
    track = "SELECT round(track_temp_c, 2) FROM runs WHERE note_file IS NOT NULL"
    assert bring.site.rows(track) == [(40.0,)]
    bring.choose(TEMPERATURES).answer("Read another part of it, or with other answers").answer("°F")
    assert "This file is in the book already, and by the answers of now it reads otherwise." in bring.words
    assert bring.site.rows(track) == [(40.0,)]
    bring.answer("Read it again, and change its rows")
    assert "Brought in" in bring.words
    assert bring.site.rows(track) == [(4.44,)]
    assert "Take it back" in bring.words


def test_the_next_file_with_the_same_headings_is_read_as_last_time(bring: Bringing) -> None:
    bring.choose(TEMPERATURES).answer("°F").answer("Leave it open").answer("Bring them in")
    bring.choose(TEMPERATURES.replace("2026-04-03", "2026-05-03"), "may.csv")
    assert "season.csv had the same headings. Read this file as that one? The track temp is in °F." in bring.words
    asking = bring.address
    bring.answer("Yes, as last time")
    assert "1 to bring in" in bring.words
    bring.open(asking).answer("No, ask me")
    assert "Is the track temp in °C or in °F?" in bring.words


def test_what_was_said_of_one_file_alone_is_not_taken_for_the_next(bring: Bringing) -> None:
    text = "date,dry mass,oil mass\n3 Apr,12.5,2.1\n"
    bring.choose(text, "K-07.csv").answer('"K-07", for all its rows').typed("2025").answer("Bring them in")
    bring.choose(text.replace("12.5", "12.6"), "K-08.csv")
    assert "Which diff is this sheet of?" in bring.words, "neither diff nor year of another file"


def test_what_cannot_come_in_says_which_line_why_and_what_to_do_without_a_command(bring: Bringing) -> None:
    bring.choose(PLAIN + "2026-04-05,K-03,heavy,2.1\n2026-04-06,K-04,9000,2.1\n")
    assert "4 lines read: 2 to bring in, 2 rejected" in bring.words
    assert 'Line 4, dry mass "heavy": ' in bring.words
    assert "--" not in bring.words
    bring.answer("Bring them in")
    (kept,) = bring.site.rows("SELECT id FROM note_files")[0]
    assert f'href="/team/-/enter/rejected/{kept}"' in bring.text
    assert "--" not in bring.words
    assert "heavy" in bring.open(f"/team/-/enter/rejected/{kept}").words


def test_a_file_of_which_every_row_is_rejected_is_kept_to_be_mended(bring: Bringing) -> None:
    bring.choose("date,diff,dry mass\n2026-04-03,K-01,heavy\n").answer("Keep the file, and mend its rows")
    assert bring.site.rows(FILES) == [("season.csv", 0, 1)]
    assert "Mend the rejected rows: 1" in bring.words


def test_a_heading_alone_brings_nothing_in(refused: Bringing) -> None:
    refused.choose("date,diff,dry mass,oil mass\n")
    assert "There is no row of notes in it: nothing can come in." in refused.words
    assert "Bring them in" not in refused.words


def test_a_file_that_takes_too_long_to_read_is_given_up(refused: Bringing, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bevelbook.web.entry.import_look.PATIENCE_S", -1.0)
    refused.choose(PLAIN)
    assert refused.status == 413
    assert "season.csv is too long for a page" in refused.words


@pytest.mark.parametrize(
    ("content", "name", "said"),
    [
        (b"", "empty.csv", "The file is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(60), "photo.csv", "The file is an image"),
        (b"%PDF-1.7 ...", "notes.pdf", "The file is a PDF document"),
        (b"PK\x03\x04 broken", "season.xlsx", "Nothing can come in. The workbook cannot be opened"),
        (
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"),
            "season.xlsx",
            "locked with a password",
        ),
        (b"hello\nthere\n", "letter.txt", "No row has known headings"),
        (b"\0\0\0", "zeros.csv", "Nothing can come in"),
    ],
)
def test_what_is_no_file_of_notes_is_named(refused: Bringing, content: bytes, name: str, said: str) -> None:
    refused.choose(content, name)
    assert refused.status == 200
    assert said in refused.words
    assert "Choose another file" in refused.words
    assert "--" not in refused.words


def test_an_archive_that_is_no_workbook_is_named(refused: Bringing) -> None:
    import zipfile

    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("season.csv", PLAIN)
    assert "The file is an archive (zip)" in refused.choose(held.getvalue(), "season.zip").words


@pytest.mark.parametrize(
    ("content", "status", "said"),
    [
        (b"z" * (MOST_BYTES + 1), 413, "has 10.0 MB, and a page takes 10 MB. Bring it in on the laptop"),
        (b"x\n" * 1_000_000, 413, f"it has more than {MOST_LINES:,} lines"),
    ],
)
def test_a_file_over_the_limit_is_refused_before_it_is_read(
    refused: Bringing, content: bytes, status: int, said: str
) -> None:
    refused.choose(content, "long.csv")
    assert (refused.status, said in refused.words) == (status, True)
    assert "Read it" in refused.words


def test_a_workbook_that_unpacks_to_too_much_is_refused_before_it_is_read(refused: Bringing) -> None:
    import zipfile

    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", bytes(LARGEST_UNPACKED + 1))
    refused.choose(held.getvalue(), "long.xlsx")
    assert (refused.status, f"more than {MOST_LINES:,} lines" in refused.words) == (413, True)


def test_a_workbook_of_too_many_rows_is_given_up(refused: Bringing, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bevelbook.web.entry.import_look.MOST_LINES", 1)
    heading: list[object] = ["Date", "Diff", "Dry weight (g)"]
    refused.choose(workbook(K=[heading, ["2026-04-03", "K-01", 12.5], ["2026-04-04", "K-02", 12.5]]), "long.xlsx")
    assert (refused.status, "long.xlsx is too long for a page" in refused.words) == (413, True)


def test_a_form_without_a_file_and_one_that_is_not_ours_are_asked_again(refused: Bringing) -> None:
    refused._follow(refused.site.post(IMPORT, {"choose": "yes"}))
    assert (refused.status, "Choose a file first." in refused.words) == (400, True)
    for so_far in ("nonsense", "a.b.c"):
        assert "Choose the file again." in refused.open(f"{IMPORT}?so_far={so_far}").words
        refused._follow(refused.site.post(IMPORT, {"form.so_far": so_far, "bring": "yes"}))
        assert "Choose the file again." in refused.words
    assert refused.site.get(f"{IMPORT}/nothing", follow_redirects=True).status_code == 404


def test_after_a_restart_the_file_is_chosen_again_and_the_answers_are_kept(bring: Bringing) -> None:
    bring.choose(TEMPERATURES).answer("°F")
    at_second = bring.text
    waiting._WAITING.pop(bring.site.datasette).close()
    bring.open(bring.address)
    assert bring.status == 410
    assert "season.csv is not on the laptop any more" in bring.words
    (so_far,) = re.findall(r'name="form.so_far" value="([^"]+)"', bring.text)
    bring.choose(TEMPERATURES, **{"form.so_far": so_far})
    assert "Question 2." in bring.words
    assert "Is the air temp in °C or in °F?" in bring.words
    other = TEMPERATURES.replace("track", "air").replace("air temp,air temp", "air temp")
    bring.choose(other.replace(",20", ""), **{"form.so_far": so_far})
    assert "Question 1." in bring.words, "another file has its own questions"
    waiting._WAITING.pop(bring.site.datasette).close()
    bring.text = at_second
    bring.answer("°C")
    assert bring.status == 410, "an answer given to a page of before is kept too"


def test_a_page_of_before_goes_on_with_its_own_file(bring: Bringing) -> None:
    bring.choose(PLAIN, "first.csv")
    of_first = bring.text
    bring.choose(ROWS, "second.csv")
    bring.text = of_first
    bring.answer("Bring them in")
    assert bring.site.rows(FILES) == [("first.csv", 2, 0)]


def test_an_answer_that_was_changed_by_the_back_button_counts(bring: Bringing) -> None:
    bring.choose(TEMPERATURES)
    first = bring.address
    bring.answer("°F").open(first).answer("°C").answer("°C").answer("Bring them in")
    assert bring.site.rows("SELECT track_temp_c FROM runs WHERE note_file IS NOT NULL") == [(40.0,)]


def test_two_phones_bring_the_same_file_in_once_and_see_only_their_own(bring: Bringing) -> None:
    other = Bringing(bring.site.paired_with(bring.site.entry.phones.add("green phone", "bo").phone))
    bring.choose(PLAIN)
    assert other.open(bring.address).status == 410, "a file waits for the phone that sent it"
    other.choose(PLAIN)
    bring.answer("Bring them in")
    other.answer("Bring them in")
    assert "0 new: no records; 2 known already." in other.words
    assert bring.site.rows("SELECT count(*) FROM builds WHERE note_file IS NOT NULL") == [(2,)]


def test_a_form_that_is_sent_twice_at_the_same_moment_stores_once(bring: Bringing) -> None:
    bring.choose(PLAIN)
    fields = dict(re.findall(r'name="(key|form.so_far)" value="([^"]+)"', bring.text))
    sent = {**fields, "bring": "yes", "csrftoken": bring.site.token}

    async def both() -> list[Any]:
        post = bring.site.datasette.client.post
        return await asyncio.gather(*(post(IMPORT, data=sent, cookies=bring.site.cookies) for _ in range(2)))

    answers = asyncio.run(both())
    assert [one.status_code for one in answers] == [303, 303]
    assert sorted(one.headers["location"].endswith("?again=yes") for one in answers) == [False, True]
    assert bring.site.rows(FILES) == [("season.csv", 2, 0)]


def test_what_came_up_since_is_asked_before_anything_is_stored(bring: Bringing) -> None:
    """Another phone brings in an earlier state of the sheet while this one looks at its own."""
    other = Bringing(bring.site.paired_with(bring.site.entry.phones.add("green phone", "bo").phone))
    bring.choose(ROWS.replace("run 1", "run 1 and 2"))
    other.choose(ROWS).answer("Bring them in")
    bring.answer("Bring them in")
    assert "A row looks like an earlier one, changed. What is to be done with it?" in bring.words
    assert bring.site.rows(FILES) == [("season.csv", 6, 0)]


def test_what_came_of_it_is_said_after_a_restart_and_after_it_was_taken_back(bring: Bringing) -> None:
    from bevelbook.web.entry.pages import import_

    bring.choose(PLAIN).answer("Bring them in")
    import_._IMPORTED.pop(bring.site.datasette)
    bring.open(bring.address)
    assert "season.csv 2 came in, 0 rejected, 0 skipped." in bring.words
    entry = bring.address.rpartition("/")[2]
    bring.site.post("/team/-/enter/take-back", {"entry": entry})
    assert bring.site.rows("SELECT count(*) FROM builds WHERE note_file IS NOT NULL") == [(0,)]
    assert "Taken back" in bring.open(f"{IMPORT}/{entry}").words


def test_what_the_weighings_say_is_said_with_it(bring: Bringing) -> None:
    """Half a gram lost standing is asked about: no run is between."""
    text = "date,diff,dry mass,oil mass,total mass\n2026-04-03,K-01,12.50,2.00,14.50\n2026-04-10,K-01,,,14.00\n"
    bring.choose(text).answer("Bring them in")
    assert "Weighed twice: 1 unclear Weighings that disagree: K-01/1: unclear: two weighings at 0 runs" in bring.words


@pytest.mark.parametrize("name", ["../../etc/passwd.csv", "C:\\notes\\season.csv", "<b>x</b>.csv", "a" * 500 + ".csv"])
def test_a_name_of_a_file_is_only_a_name(bring: Bringing, name: str) -> None:
    bring.choose(PLAIN, name).answer("Bring them in")
    ((kept, _, _),) = bring.site.rows(FILES)
    assert len(kept) <= 120
    assert "/" not in kept.replace("</b>", "")
    assert "<b>x" not in bring.text
