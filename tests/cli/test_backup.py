"""``bevelbook backup`` as it is typed, and what check and the first page say. All data are invented."""

from __future__ import annotations

import stat
from collections.abc import Callable
from pathlib import Path

import pytest
from browser_team import Team, make_team, site_over
from conftest import Outcome

from bevelbook.plugin.registry import Registry
from bevelbook.store.invented_mark import INVENTED_WORDS
from bevelbook.web.host.datasette_state import state_of

Run = Callable[..., Outcome]


@pytest.fixture(autouse=True)
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "settings"
    monkeypatch.setattr("bevelbook.web.pairing.settings_folder.settings_folder", lambda: folder)
    return folder


@pytest.fixture
def team(tmp_path: Path) -> Team:
    return make_team(tmp_path / "team.db", "a note")


def test_a_copy_is_made_listed_and_brought_back(bevelbook: Run, team: Team) -> None:
    made = bevelbook("--db", team.path, "backup")
    (copy,) = team.path.parent.glob("team-20*.db")
    assert made.code == 0
    assert f"Kept a copy: {copy}" in made.out
    assert "holds what the database holds: 5 builds, 8 runs" in made.out
    assert INVENTED_WORDS not in made.out
    listed = bevelbook("--db", team.path, "backup", "--list")
    assert (listed.code, f"  {copy.name}  " in listed.out) == (0, True)
    bevelbook("--db", team.path, "record", "idea", "text=since")
    back = bevelbook("--db", team.path, "backup", "--bring-back", copy)
    assert back.code == 0
    (kept,) = team.path.parent.glob("team.before-bring-back-*.db")
    assert f"The database as it was is kept: {kept.name}." in back.out
    assert "since" not in bevelbook("--db", team.path, "export", "--table", "ideas", "--csv", "-").out
    assert f"{kept.name}" in bevelbook("--db", team.path, "backup", "--list").out


def test_the_copies_of_a_damaged_book_are_listed(bevelbook: Run, team: Team, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    stick.mkdir()
    for place in (["--to", stick], []):
        bevelbook("--db", team.path, "backup", *place)
    content = team.path.read_bytes()
    team.path.write_bytes(content[:112] + b"\xff" * 3000 + content[3112:])
    listed = bevelbook("--db", team.path, "backup", "--list")
    assert (listed.code, listed.err) == (
        0, f"bevelbook: {team.path.name} is damaged: its copies are known by their names and places alone.\n"
    )  # fmt: skip
    assert [line.count("team-20") for line in listed.out.splitlines()] == [0, 1, 1]
    assert "not made here" not in listed.out


def test_for_programs_it_is_data(bevelbook: Run, team: Team) -> None:
    made = bevelbook("--db", team.path, "backup", "--json").json
    assert (made["rows"]["builds"], made["noted"], made["removed"]) == (5, True, [])
    again = bevelbook("--db", team.path, "backup", "--copies", "1", "--json").json
    assert (again["removed"], again["content"]) == ([made["copy"]], made["content"])
    (listed,) = bevelbook("--db", team.path, "backup", "--list", "--json").json["copies"]
    assert (listed["path"], listed["sort"], listed["is_counted"]) == (again["copy"], "dated", True)
    back = bevelbook("--db", team.path, "backup", "--bring-back", again["copy"], "--json").json
    assert Path(back["kept"]).exists()


def test_one_copy_on_each_of_two_sticks_in_one_minute(bevelbook: Run, team: Team, tmp_path: Path) -> None:
    bevelbook("--db", team.path, "backup")
    sticks = [tmp_path / "s1", tmp_path / "s2"]
    for stick in sticks * 2:
        stick.mkdir(exist_ok=True)
        done = bevelbook("--db", team.path, "backup", "--to", stick, "--copies", "1")
        (left,) = stick.iterdir()
        assert (done.code, done.err) == (0, "")
        assert f"Kept a copy: {left}," in done.out
        assert f": {left.name}." not in done.out, "it is not among those that were removed"
    assert "Removed older copies" in done.out
    listed = bevelbook("--db", team.path, "backup", "--list", "--json").json["copies"]
    assert [one["is_counted"] for one in listed] == [True] * 3


@pytest.mark.parametrize(
    "words",
    [
        ("--list", "--bring-back", "x.db"),
        ("--list", "--copies", "2"),
        ("--bring-back", "x.db", "--to", "."),
        ("--other-book",),
        ("--copies", "0"),
        ("--copies", "few"),
    ],
)
def test_options_that_do_not_go_together_are_refused(bevelbook: Run, team: Team, words: tuple[str, ...]) -> None:
    before = sorted(team.path.parent.iterdir())
    done = bevelbook("--db", team.path, "backup", *words)
    assert (done.code, done.out) == (2, "")
    assert sorted(team.path.parent.iterdir()) == before


def test_check_and_the_first_page_on_this_computer_say_when_one_is_due(
    bevelbook: Run, team: Team, settings: Path, registry: Registry
) -> None:
    never = "No backup of this book was made on this computer"
    checked = bevelbook("--db", team.path, "check")
    assert f"{never}: 'bevelbook --db {team.path} backup'." in checked.out
    with site_over(team.path, registry) as site:
        assert never not in site.page("/"), "no command of ours serves it"
        state_of(site.datasette).settings = settings
        assert "bevelbook --db team.db backup" in site.page("/")
        assert str(team.path.parent) not in site.page("/")
        for headers in ({"host": "bench.local"}, {"x-forwarded-for": "192.0.2.9"}, {"host": "192.0.2.7"}):
            assert never not in site.get("/", headers=headers).text, "no visitor reads it"
        bevelbook("--db", team.path, "backup")
        assert never not in site.page("/")
        ran = bevelbook("--db", team.path, "record", "run", "run_on=2026-05-24", "rear=rear-a")
        assert ran.code == 0, ran.err
        assert "runs of 2026-05-24 are not in it" in site.page("/")
    said = bevelbook("--db", team.path, "check", "--json").json["keeping"]
    assert [one["code"] for one in said] == ["backup_due"]


def test_who_can_read_a_book_is_its_owner(bevelbook: Run, tmp_path: Path) -> None:
    path = tmp_path / "new.db"
    bevelbook("--db", path, "new")
    notes = tmp_path / "season.csv"
    notes.write_text("date,diff,dry mass g\n2026-05-02,rear-a,12.40\n2026-05-03,rear-a,heavy\n")
    bevelbook("--db", path, "import", notes, "--yes")
    bevelbook("--db", path, "check")  # leaves -wal and -shm
    made = [one for one in tmp_path.iterdir() if one.is_file() and one != notes]
    assert {one.name for one in made} >= {"new.db", "new.db-wal", "new.db-shm", "season.rejected.csv"}
    assert {one.name: stat.S_IMODE(one.stat().st_mode) for one in made} == {one.name: 0o600 for one in made}
    path.chmod(0o644)
    said = bevelbook("--db", path, "check")
    assert f"Everybody who uses this computer can read new.db: 'chmod 600 {path}'." in said.out
    assert stat.S_IMODE(path.stat().st_mode) == 0o644, "who opened it on purpose finds it open"
    path.chmod(0o640)
    assert "Everybody" not in bevelbook("--db", path, "check").out, "a group may share a book"
