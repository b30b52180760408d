"""``bevelbook erase``: what goes is nowhere in the bytes, here and wherever the database meets others, and everything
else stays. All data are constructed."""

from __future__ import annotations

import re
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from asked import asked
from clashing import copy_of
from conftest import Begin, Outcome, empty_database
from meetings import dumped
from photographed import picture

from bevelbook.store import wiping
from bevelbook.store.calculations import COLUMNS, keep
from bevelbook.store.erased_marks import neutral_name
from bevelbook.store.sqlite_errors import in_words

Run = Callable[..., Outcome]
HEADING = "date,builder,diff,dry_mass_g,oil_mass_g,result_note,weather"
SHEET = f"""{HEADING}
2026-04-04,Zora,rear-a,12.40,1.86,zora's shim held,sun
2026-04-05,Zora,rear-a,12.41,1.87,Ferrule 0171 rang,sun
2026-04-06,bo,rear-b,12.42,1.88,fine,zora drove
2026-04-07,Zora,rear-b,~12,1.88,asked zora,sun
"""
WORD = neutral_name("zora")


@pytest.fixture
def team(bevelbook: Run, db: Path, tmp_path: Path, begin: Begin) -> Path:
    """A database in which zora is everywhere: in a sheet, in texts, as who wrote, under a second name, in the past."""
    (tmp_path / "season.csv").write_text(SHEET)
    say = ("--db", db, "--by", "zora")
    begin(
        bevelbook,
        db,
        (*say, "record", "person", "name=zora", "note=Lindenweg 4"),
        (*say, "record", "person", "name=Z.Quill"),
        (*say, "join", "person", "zora", "Z.Quill"),
        (*say, "record", "venue", "name=Zora's hall", "note=ask Z. Quill"),
        (*say, "record", "diff", "label=rear-c", "note=zora's favourite"),
        (*say, "record", "diff", "rear-c", "note=kept dry"),
        (*say, "record", "run", "run_on=2026-04-08", "driver=zora", "note=Mustn't be kept 0171"),
    )
    outcome = bevelbook("--db", db, "import", tmp_path / "season.csv")
    assert outcome.code == 1, outcome.err
    return db


def in_bytes(path: Path, *texts: str) -> list[str]:
    """The texts that stand in a database or in the files beside it, in any case, in UTF-8 or UTF-16."""
    found = []
    for file in path.parent.glob(f"{path.name}*"):
        held = file.read_bytes().lower()
        found += [
            f"{text} in {file.name}"
            for text in texts
            for encoding in ("utf-8", "utf-16-le")
            if text.lower().encode(encoding) in held
        ]
    return found


def is_sound(run: Run, path: Path) -> None:
    """Nothing is wrong with the database itself."""
    assert run("--db", path, "check", "--json").json["faults"] == []
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_a_person_is_nowhere_and_the_records_stay(bevelbook: Run, team: Path) -> None:
    counts = asked(team, "SELECT count(*) FROM builds"), asked(team, "SELECT count(*) FROM runs")
    ids = asked(team, "SELECT id, version FROM builds ORDER BY id")
    assert in_bytes(team, "zora", "quill", "Lindenweg")
    tried = bevelbook("--db", team, "erase", "person", "zora", "--dry-run")
    assert tried.code == 0, tried.err
    assert "Also called Z.Quill." in tried.out
    assert "1 kept file, 2 left-out rows" in tried.out and f"'{WORD}' will stand there." in tried.out
    assert in_bytes(team, "zora"), "nothing was written"
    asked_first = bevelbook("--db", team, "erase", "person zora")
    assert asked_first.code == 2 and "--yes" in asked_first.err
    done = bevelbook("--db", team, "--by", "bo", "erase", "person zora", "--yes")
    assert done.code == 0, done.err
    assert "Erased, and gone from the file." in done.out and "Not seen from here: " in done.out
    assert in_bytes(team, "zora", "quill", "Lindenweg") == []
    assert (asked(team, "SELECT count(*) FROM builds"), asked(team, "SELECT count(*) FROM runs")) == counts
    assert asked(team, "SELECT id, version FROM builds ORDER BY id") == ids, "no version is made, none is renamed"
    assert asked(team, "SELECT p.name FROM runs r JOIN people p ON p.id = r.driver WHERE run_on = '2026-04-08'") == [
        (WORD,)
    ]
    assert (f"{WORD}'s hall", f"ask {WORD}") in asked(team, "SELECT name, note FROM venues")
    assert asked(team, "SELECT made_by, asked FROM entries ORDER BY rowid DESC LIMIT 1") == [("bo", "erase a person")]
    is_sound(bevelbook, team)
    for words in (("--by", "bo", "take-back"), ("--by", "cem", "take-back")):
        refused = bevelbook("--db", team, *words)
        assert refused.code == 2 and "erasing is for good" in " ".join(refused.err.split())
        assert "--of" not in refused.err
    again = bevelbook("--db", team, "erase", "person", "zora", "--yes")
    assert again.code == 0 and "person zora: nothing." in again.out


def test_a_sheet_that_has_the_name_comes_in_without_it(bevelbook: Run, team: Path, tmp_path: Path) -> None:
    bevelbook("--db", team, "erase", "person", "zora", "--yes")
    before = asked(team, "SELECT id FROM builds ORDER BY id")
    longer = tmp_path / "season.csv"
    longer.write_text(f"{SHEET}2026-04-09,Zora,rear-a,12.44,1.88,zora again,sun\n")
    outcome = bevelbook("--db", team, "import", longer)
    assert "name_erased" in bevelbook("--db", team, "import", longer, "--json").out
    assert "who was erased" in outcome.out, outcome.out
    new = [row[0] for row in asked(team, "SELECT id FROM builds ORDER BY id") if row not in before]
    assert len(new) == 1, "the rows that are here are the same rows"
    built = "SELECT p.name, b.note FROM builds b JOIN people p ON p.id = b.builder WHERE b.built_on = '2026-04-09'"
    assert asked(team, built) == [(WORD, f"{WORD} again")]
    noted = bevelbook("--db", team, "--by", "zora", "record", "diff", "label=rear-d", "note=zora says hello")
    said = " ".join(noted.out.split())
    assert f"A name in the note was erased, so it is stored as '{WORD} says hello'." in said
    assert f"Your name was erased in this book: as who wrote it '{WORD}' is stored." in said
    added = " ".join(bevelbook("--db", team, "record", "person", "name=ZORA").out.split())
    assert f"A person of that name was erased, so '{WORD}' is stored instead." in added
    numbers = [one["number"] for one in bevelbook("--db", team, "history", "--json").json["entries"]]
    assert f"take-back {max(numbers)}'. A new team mate" in added
    assert "A new team mate needs another name" in added
    assert asked(team, "SELECT note, updated_by FROM diffs WHERE label = 'rear-d'") == [(f"{WORD} says hello", WORD)]
    assert in_bytes(team, "zora") == []
    is_sound(bevelbook, team)


def test_a_result_that_is_kept_later_does_not_say_who(bevelbook: Run, team: Path) -> None:
    bevelbook("--db", team, "erase", "person", "zora", "--yes")
    given = {
        "id": "one",
        "calculator": "balance",
        "version": 1,
        "calculated_by": "Zora",
        "package": "bevelbook",
        "package_version": "1",
        "calculated_at": "2026-05-01T10:00:00.000Z",
        "given": "{}",
        "found": "{}",
        "rows": "[]",
        "uncertainties": "{}",
        "origins": "{}",
        "reasons": "[]",
        "verdict": "ok",
    }
    with closing(sqlite3.connect(team)) as connection:
        assert keep(connection, [[given.get(name) for name in COLUMNS]]) == 1
        connection.commit()
    assert asked(team, "SELECT calculated_by FROM calculations WHERE id = 'one'") == [(WORD,)]
    assert in_bytes(team, "zora") == []


def test_a_note_goes_with_all_its_versions_also_of_a_removed_record(bevelbook: Run, team: Path) -> None:
    bevelbook("--db", team, "record", "run", "2026-04-08/1", "note=Mustn't be kept 0172")
    bevelbook("--db", team, "record", "run", "2026-04-08/1", "--remove", "twice")
    done = bevelbook("--db", team, "erase", "run", "2026-04-08/1", "note", "--yes")
    assert done.code == 0, done.err
    assert "2 past versions" in done.out
    assert in_bytes(team, "Mustn't be kept", "0172") == []
    done = bevelbook("--db", team, "erase", "build", "rear-a/2", "note", "--yes")
    assert done.code == 0 and "1 kept file" in done.out, done.out
    assert in_bytes(team, "Ferrule") == []
    assert asked(team, "SELECT note FROM builds WHERE label = 'rear-a/2'") == [("erased",)]
    is_sound(bevelbook, team)
    wrong = bevelbook("--db", team, "erase", "build", "rear-a/2", "oil_mass", "--yes")
    assert wrong.code == 2 and "cannot be erased" in wrong.err


def test_the_same_sheet_does_not_bring_a_note_back(bevelbook: Run, team: Path, tmp_path: Path) -> None:
    bevelbook("--db", team, "erase", "build", "rear-a/2", "--yes")
    sheet = tmp_path / "season.csv"
    bevelbook("--db", team, "import", sheet)
    sheet.write_text(f"{SHEET}2026-04-09,bo,rear-a,12.44,1.88,other,sun\n")
    bevelbook("--db", team, "import", sheet)
    assert asked(team, "SELECT note FROM builds WHERE built_on = '2026-04-09'") == [("other",)]
    assert in_bytes(team, "Ferrule") == []


def test_a_photograph_goes_with_its_bytes(bevelbook: Run, team: Path, tmp_path: Path) -> None:
    (tmp_path / "crack.jpg").write_bytes(picture())
    bevelbook(
        "--db", team, "record", "photo", "build=rear-a/1", "piece=outdrive", "note=Beside 0171", "--file", "crack.jpg"
    )
    ((photo, jpeg),) = asked(team, "SELECT p.id, b.jpeg FROM photos p JOIN picture_bytes b ON b.sha256 = p.picture")
    done = bevelbook("--db", team, "erase", "photo", photo, "--yes")
    assert done.code == 0, done.err
    assert asked(team, "SELECT count(*) FROM picture_bytes") == asked(team, "SELECT count(*) FROM photos") == [(0,)]
    assert jpeg[200:400] not in team.read_bytes()
    assert in_bytes(team, "Beside 0171") == []
    is_sound(bevelbook, team)


def test_a_name_that_is_a_word_is_listed_first(bevelbook: Run, db: Path) -> None:
    say = ("--db", db, "--by", "may")
    bevelbook(*say, "record", "person", "name=May")
    bevelbook(*say, "record", "diff", "label=rear-a", "note=it may rub")
    tried = bevelbook("--db", db, "erase", "person", "May", "--dry-run")
    assert tried.out.startswith("May: a word of the language")
    assert "diff rear-a: it may rub" in tried.out
    bevelbook("--db", db, "erase", "person", "May", "--only-who", "--yes")
    assert asked(db, "SELECT note, updated_by FROM diffs") == [("it may rub", neutral_name("may"))]


def test_what_was_begun_is_found_by_check_and_finished(
    bevelbook: Run, team: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object) -> bool:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(wiping, "_make_search_again", killed)
        bevelbook("--db", team, "erase", "person", "zora", "--yes")
    assert asked(team, "SELECT count(*) FROM people WHERE name LIKE 'zora%'") == [(0,)]
    assert any("free pages" in line for line in bevelbook("--db", team, "check", "--json").json["faults"])
    again = bevelbook("--db", team, "erase", "person", "zora", "--yes")
    assert again.code == 0, again.err
    assert in_bytes(team, "zora") == []
    is_sound(bevelbook, team)


def test_it_waits_for_a_program_that_has_the_file_open(bevelbook: Run, team: Path) -> None:
    with closing(sqlite3.connect(team)) as reading, in_words(team):
        reading.execute("BEGIN")
        reading.execute("SELECT count(*) FROM people").fetchone()
        done = bevelbook("--db", team, "erase", "person", "zora", "--yes")
        assert done.code == 1 and "type 'bevelbook --db" in " ".join(done.out.split())
    finished = bevelbook("--db", team, "erase")
    assert finished.code == 0 and "Gone from the file." in finished.out
    assert in_bytes(team, "zora") == []


def test_a_disk_that_is_full_while_the_file_is_written_again_is_said(
    bevelbook: Run, team: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As SQLite says it; the erasing itself stands, and is finished later."""

    def full(*_: object) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    with monkeypatch.context() as patch:
        patch.setattr(wiping, "_fill_where_wrong", full)
        done = bevelbook("--db", team, "erase", "person", "zora", "--yes")
    said = " ".join(done.out.split())
    assert done.code == 1 and "could not be written again: the disk is full. Put that right, then type" in said
    assert asked(team, "SELECT count(*) FROM people WHERE name LIKE 'zora%'") == [(0,)]
    assert bevelbook("--db", team, "erase").code == 0
    assert in_bytes(team, "zora") == []


def test_it_goes_along_and_a_team_mate_does_not_bring_it_back(bevelbook: Run, team: Path, tmp_path: Path) -> None:
    mate = copy_of(team, "bo")
    bevelbook("--db", mate, "--by", "bo", "record", "run", "2026-04-08/1", "grip=high")
    bevelbook("--db", mate, "--by", "zora", "record", "diff", "label=front-1", "note=zora was here")
    bevelbook("--db", team, "erase", "person", "zora", "--yes")
    bevelbook("--db", team, "erase", "run", "2026-04-08/1", "note", "--yes")
    met = bevelbook("--db", team, "merge", mate)
    assert met.code == 0, met.err
    assert in_bytes(team, "zora", "quill", "Mustn't") == []
    assert (f"{WORD} was here",) in asked(team, "SELECT note FROM diffs WHERE label = 'front-1'")
    met = bevelbook("--db", mate, "merge", team)
    assert met.code == 0, met.err
    assert "Erased by it, since the other side erased it: " in met.out
    assert in_bytes(mate, "zora", "quill", "Mustn't") == []
    is_sound(bevelbook, mate)
    with closing(sqlite3.connect(team)) as one, closing(sqlite3.connect(mate)) as other:
        assert dumped(one) == dumped(other)
    kept = [file.name for file in tmp_path.glob("*.before-merge*")]
    tried = bevelbook("--db", mate, "erase", "person", "zora", "--dry-run", "--json").json
    still = [Path(file).name for file in tried["still_in"] if file.endswith(".db")]
    assert still == [name for name in sorted(kept) if name.startswith("bo")]


def test_the_marks_are_in_an_export_and_in_every_part(bevelbook: Run, team: Path, tmp_path: Path) -> None:
    old = copy_of(team, "old")
    bevelbook("--db", team, "erase", "person", "zora", "--yes")
    for number, (sent, *more) in enumerate((("sent",), ("sent.zip", "--since", date.today().isoformat()))):
        folder = tmp_path / sent
        assert bevelbook("--db", team, "export", folder, *more).code == 0
        mate = tmp_path / f"mate-{number}.db"
        shutil.copyfile(old, mate)
        met = bevelbook("--db", mate, "merge", folder)
        assert met.code == 0, met.err
        assert in_bytes(mate, "zora") == []
    files = [file for file in (tmp_path / "sent").rglob("*") if file.is_file()]
    assert not any(b"zora" in file.read_bytes().lower() for file in files)
    empty = empty_database(tmp_path / "fresh.db")
    bevelbook("--db", empty, "merge", tmp_path / "sent")
    bevelbook("--db", empty, "merge", old)
    assert in_bytes(empty, "zora") == []


def test_where_else_it_is_said_as_far_as_this_computer_can_know(
    bevelbook: Run, team: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looked into, not by name: copies, an edition, an export, a zip, a sheet, and a database with its log."""
    settings = tmp_path / "settings"
    monkeypatch.setattr("bevelbook.web.pairing.settings_folder.settings_folder", lambda: settings)
    stick, other = tmp_path / "stick", tmp_path / "stick-out"
    for folder in (stick, other):
        folder.mkdir()
        assert bevelbook("--db", team, "backup", "--to", folder).code == 0
    shutil.rmtree(other)
    for words in (("edition", tmp_path / "world"), ("export", tmp_path / "sent"), ("export", tmp_path / "sent.zip")):
        done = bevelbook("--db", team, *words, *(("--since", "2026-01-01") if words[1].suffix == ".zip" else ()))
        assert done.code == 0, done.err
    assert bevelbook("--db", team, "edition", tmp_path / "clean", "--without-people", "--yes").code == 0
    shutil.copyfile(team, tmp_path / "mate.db")
    (tmp_path / "list.txt").write_text("zora's car: 7")
    (tmp_path / "letters.txt").write_text("as Qu\u00edlls said", encoding="utf-8")
    (tmp_path / "words.txt").write_text("zorastrian, and Bozora")
    (tmp_path / "broken.xlsx").write_bytes(b"PK\3\4cut off")
    bevelbook("--db", empty_database(tmp_path / "fresh.db"), "--by", "bo", "record", "diff", "label=rear-a")
    bevelbook("--db", team, "--by", "cem", "record", "diff", "label=rear-x")
    tried = bevelbook("--db", team, "--by", "bo", "erase", "person", "zora", "--dry-run", "--json").json
    files = {Path(one["path"]).name: (one["what"], one["seen"]) for one in tried["elsewhere"]["files"]}
    (backup,) = stick.iterdir()
    assert files == {
        backup.name: ("backup", True),
        "world": ("edition", True),
        "sent": ("export", True),
        "sent.zip": ("zip", True),
        "mate.db": ("database", True),
        "season.csv": ("sheet", True),
        "season.rejected.csv": ("sheet", True),
        "list.txt": ("file", True),
        "letters.txt": ("file", True),
        "broken.xlsx": ("sheet", False),
    }
    assert [Path(one["path"]).parent.name for one in tried["elsewhere"]["backups_not_there_now"]] == ["stick-out"]
    (sheet,) = tried["elsewhere"]["sheets"]
    assert (sheet["name"], sheet["path"]) == ("season.csv", str(tmp_path / "season.csv"))
    assert tried["elsewhere"]["others_who_wrote"] == ["cem"]
    said = " ".join(bevelbook("--db", team, "--by", "bo", "erase", "person", "zora", "--yes").out.split())
    assert f"{backup} (backup)" in said and f"{tmp_path / 'broken.xlsx'} (sheet)" in said
    assert "a stick that is not plugged in" in said and "In this book cem wrote too." in said
    bevelbook("--db", team, "backup")
    after = bevelbook("--db", team, "erase", "person", "zora", "--dry-run", "--json").json["still_in"]
    assert {Path(one).name for one in after} == set(files) - {"letters.txt"}, (
        "a copy of after does not have it, and the second name is not known any more"
    )


def test_every_way_to_write_a_name_goes_and_a_team_mate_s_name_stays(bevelbook: Run, db: Path) -> None:
    """Searched byte by byte, also as JSON and in UTF-16; who is called alike keeps the name, and that is said."""
    ways = ("J\u00f6rg Zwibler", "Joerg", "JORG", "jo\u0308rgs", "Zwiblers", "ZWIBLER", "J\u00f6rg\u00a0Zwibler's")
    for name in ("J\u00f6rg Zwibler May", "Ann May", "Sky Zwo"):
        bevelbook("--db", db, "record", "person", f"name={name}")
    bevelbook("--db", db, "record", "venue", "name=hall", f"note=ask {', '.join(ways)}, M. Zwibler, J. May or Ann May")
    bevelbook("--db", db, "record", "venue", "name=yard", "note=5 j Zwibler")
    tried = bevelbook("--db", db, "erase", "person", "J\u00f6rg Zwibler May", "--dry-run")
    assert "'may' alone stays in texts: Ann May is called so too." in tried.out, tried.out
    assert re.search(r"'j erased \d{4}' keeps its letter", tried.out), tried.out
    assert bevelbook("--db", db, "erase", "person", "J\u00f6rg Zwibler May", "--yes").code == 0
    held = db.read_bytes().lower()
    for word in ("zwibler", "j\u00f6rg", "J\u00d6RG", "joerg", "jorg", "jo\u0308rg", "j\\u00f6rg"):
        for encoding in ("utf-8", "utf-16-le", "utf-16-be"):
            assert word.encode(encoding).lower() not in held, (word, encoding)
    assert asked(db, "SELECT count(*) FROM people WHERE name IN ('Ann May', 'Sky Zwo')") == [(2,)]
    ((note,),) = asked(db, "SELECT note FROM venues WHERE name = 'hall'")
    assert re.search(r", erased \d{4}, erased \d{4} or Ann May$", note), note
    wrong = bevelbook("--db", db, "erase", "person", "Nobody", "--yes")
    assert wrong.code == 2 and "record person" not in wrong.err and "Nothing was changed" in wrong.err
    assert asked(db, "SELECT count(*) FROM people") == [(3,)]
