"""Laptops that come together: whatever the order, and however often, each holds the same. All data are constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from itertools import permutations
from pathlib import Path

import pytest
from laptops import Laptop, laptops, memory
from meeting.whole_content import whole_content
from meeting_rule import unlike_rule
from steered import START, Steering, steered

from bevelbook.declare.errors import InputError
from bevelbook.meeting.settle import settle
from bevelbook.meeting.union import Met, merge_into
from bevelbook.notes.importing import import_notes
from bevelbook.notes.settings import Settings
from bevelbook.plugin.registry import load
from bevelbook.records import BY_NAME
from bevelbook.store.clashes import clashes
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.history import changed_by_others
from bevelbook.store.invented_mark import is_invented, mark_invented
from bevelbook.store.opening import transaction
from bevelbook.store.same_things import join_id
from bevelbook.store.soundness import accept_changes
from bevelbook.store.writing import Writer
from bevelbook.taking_back.refusals import TakeBackRefusedError
from bevelbook.taking_back.take_back import take_back

DIFF, BUILD, FLUID, VENUE, JOIN = (BY_NAME[name] for name in ("diff", "build", "fluid", "venue", "join"))


class Laptops:
    """Laptops a, b and c, of which each writes with its own clock; and what each of them does."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.steering = Steering()
        self.laptops = {one.name: one for one in laptops(folder, "abc", self.steering)}
        self.minute = 0

    def start_together(self, laptop: str = "a") -> None:
        """Give everybody a copy of one laptop's database."""
        kept = self.laptops[laptop].kept()
        for one in self.laptops.values():
            one.put(kept)

    @contextmanager
    def at(self, name: str) -> Iterator[Laptop]:
        """The next minute, on one laptop."""
        self.minute += 1
        laptop = self.laptops[name]
        self.steering.at = START + timedelta(minutes=self.minute, seconds=laptop.clock_off_s)
        with steered(self.steering):
            yield laptop

    def write(self, name: str, do: Callable[[Writer], object]) -> str:
        """One entry on one laptop; returns what it made, as text."""
        with self.at(name) as one, transaction(one.connection, one.path, asked="record", by=name):
            return str(do(Writer(one.connection, name)))

    def add(self, name: str, kind: str, /, **values: object) -> str:
        return self.write(name, lambda writer: writer.insert(BY_NAME[kind], values))

    def change(self, name: str, kind: str, row_id: str, /, **values: object) -> None:
        self.write(name, lambda writer: writer.update(BY_NAME[kind], row_id, values))

    def remove(self, name: str, kind: str, row_id: str) -> None:
        self.write(name, lambda writer: writer.remove(BY_NAME[kind], row_id))

    def join(self, name: str, kind: str, one: str, other: str) -> str:
        values = {"kind": kind, "one": one, "other": other, "same": "yes"}
        return self.write(name, lambda writer: writer.insert(JOIN, values, row_id=join_id(kind, one, other)))

    def ids(self, name: str, table: str) -> list[str]:
        return [row[0] for row in self.laptops[name].connection.execute(f"SELECT id FROM {table} ORDER BY id")]

    def bring_in(self, name: str, text: str, file: str = "notes.csv") -> None:
        with self.at(name) as one:
            import_notes(
                io.BytesIO(text.encode()),
                file,
                one.connection,
                one.path,
                Settings(today="2026-05-09"),
                by=name,
                asked=f"import {file}",
            )

    def take_back(self, name: str) -> None:
        """Take the last entry of one laptop back that its owner wrote."""
        with self.at(name) as one:
            entry = [each for each in EntryBook(one.connection).all if each.made_by == name][-1]
            take_back(one.connection, one.path, [entry], load(), by=name)

    def sent(self, name: str) -> bytes:
        path = self.laptops[name].to_send(self.folder / "sent.db")
        if is_invented(self.laptops[name].connection):
            with closing(sqlite3.connect(path)) as marked, marked:
                mark_invented(marked)
        return path.read_bytes()

    def meet(self, name: str, other: str | bytes, **more: bool) -> Met:
        """Have one laptop take in what another one sends."""
        path = self.folder / "came.db"
        path.write_bytes(self.sent(other) if isinstance(other, str) else other)
        with self.at(name) as one:
            return merge_into(one.connection, one.path, path, **more)

    def content(self, name: str) -> str:
        return whole_content(self.laptops[name].connection)

    def masses(self, name: str) -> list[float | None]:
        rows = self.laptops[name].connection.execute("SELECT dry_mass_g FROM builds ORDER BY label, id")
        return [row[0] for row in rows]

    def equal_in_every_order(self) -> None:
        """Whatever they meet in, and twice, all hold the same; and into an empty database it is the same again."""
        kept = {name: one.kept() for name, one in self.laptops.items()}
        sent = {name: self.sent(name) for name in "abc"}
        found: dict[str, str] = {}
        for order in permutations("abc"):
            for name in order[:1]:
                self.laptops[name].put(kept[name])
                for other in order[1:]:
                    self.meet(name, sent[other])
                found["".join(order)] = self.content(name)
                assert self.laptops[name].connection.execute("PRAGMA foreign_key_check").fetchall() == []
        whole = self.sent("c")
        again = self.meet("c", whole)
        assert again.is_empty, again
        found["twice"] = self.content("c")
        self.laptops["a"].put(self.laptops["a"].empty)
        self.meet("a", whole)
        found["empty"] = self.content("a")
        self.meet("b", sent["c"])
        assert len(set(found.values())) == 1, {text: name for name, text in found.items()}.values()
        for name, one in self.laptops.items():
            one.put(kept[name])
            self.meet(name, whole)


@pytest.fixture
def team(tmp_path: Path) -> Iterator[Laptops]:
    assert memory().is_dir()
    made = Laptops(tmp_path)
    yield made
    for one in made.laptops.values():
        one.close()


@pytest.fixture
def build(team: Laptops) -> str:
    """A build that all laptops have."""
    diff = team.add("a", "diff", label="rear-a")
    row_id = team.add("a", "build", label="rear-a/1", diff=diff, built_on="2026-05-01", kind="new", dry_mass_g=46.20)
    team.start_together()
    return row_id


def test_an_entry_that_another_program_changed_stays_as_it_is_here_and_is_named_each_time(
    team: Laptops, build: str
) -> None:
    for name, made_by, asked in (("b", "aa", "record"), ("c", "zz", "a")):
        connection = team.laptops[name].connection
        connection.execute("UPDATE entries SET made_by = ?, asked = ?", (made_by, asked))
    said = {"a": ("a", "record"), "b": ("aa", "record"), "c": ("zz", "a")}
    sent = {name: team.sent(name) for name in "abc"}
    for name, other in permutations("abc", 2):
        for _ in range(2):
            met = team.meet(name, sent[other])
            differing = {"made_by"} if "c" not in (name, other) else {"made_by", "asked"}
            assert [(one.kind.name, set(one.columns)) for one in met.apart] == [("entry", differing)] * 2
            assert met.is_unchanged and not met.is_empty
            found = team.laptops[name].connection.execute("SELECT DISTINCT made_by, asked FROM entries").fetchall()
            assert [tuple(one) for one in found] == [said[name]]


def test_a_kept_row_is_as_on_all_laptops_where_the_time_of_its_entry_is_another(team: Laptops) -> None:
    text = "Date,Diff,Dry mass (g)\n2026-05-01,rear-a,46.20\n"
    team.bring_in("a", text)
    team.start_together()
    team.bring_in("a", f"{text}2026-05-02,rear-b,46.30\n")
    team.bring_in("b", f"{text}2026-05-03,rear-c,46.40\n")
    team.laptops["c"].connection.execute("UPDATE entries SET made_at = '2026-01-01T00:00:00+00:00'")
    sent = {name: team.sent(name) for name in "abc"}
    (sound,) = team.laptops["a"].connection.execute("SELECT made_at FROM entries ORDER BY made_at LIMIT 1").fetchone()
    for name in "abc":
        for other in sorted({*"abc"} - {name}):
            met = team.meet(name, sent[other])
            assert [one.columns for one in met.apart] == ([("made_at",)] if "c" in (name, other) else [])
    files = {name: _rows(team, name, "note_files") for name in "abc"}
    assert len(files["a"]) == 3
    assert files["a"] == files["b"] == files["c"]
    entries = {name: _rows(team, name, "entries") for name in "abc"}
    assert entries["a"] == entries["b"]
    assert [one["made_at"] for one in entries["c"] if one not in entries["a"]] == ["2026-01-01T00:00:00+00:00"]
    assert [one["made_at"] for one in entries["a"] if one not in entries["c"]] == [sound]


def _rows(team: Laptops, name: str, table: str) -> list[dict[str, object]]:
    return [dict(row) for row in team.laptops[name].connection.execute(f"SELECT * FROM {table} ORDER BY id")]


def test_what_only_one_knew_comes_and_it_is_said_who_wrote_it(team: Laptops, build: str) -> None:
    diff = team.add("b", "diff", label="front-1")
    team.add("b", "build", label="front-1/1", diff=diff, built_on="2026-05-02", kind="new")
    team.add("c", "venue", name="Brickfield")
    met = team.meet("a", "b")
    assert dict(met.came) == {"diff": 1, "build": 1, "entry": 2}
    assert met.by_whom == {"b": {"diff": 1, "build": 1}}
    assert not met.changed and not met.removed and not met.clashes
    assert team.laptops["a"].connection.execute("SELECT count(*) FROM entries").fetchone()[0] == 4, (
        "no entry of its own"
    )
    facts = team.laptops["a"].connection.execute("SELECT count(*) FROM build_facts").fetchone()[0]
    assert facts == 2
    found = team.laptops["a"].connection.execute("SELECT count(*) FROM builds_search WHERE builds_search MATCH 'front'")
    assert found.fetchone()[0] == 1
    team.equal_in_every_order()


def test_the_same_changed_in_two_places_is_a_clash_and_the_latest_is_shown_on_all(team: Laptops, build: str) -> None:
    team.change("a", "build", build, dry_mass_g=46.31)
    team.change("b", "build", build, dry_mass_g=46.13)
    team.equal_in_every_order()
    for name in "abc":
        assert team.masses(name) == [46.13]
        (clash,) = clashes(team.laptops[name].connection)
        assert (clash.why, clash.differing) == ("changed", ("dry_mass_g",))
        assert [(one.made_by, (one.content or {})["dry_mass_g"]) for one in clash.heads] == [("b", 46.13), ("a", 46.31)]
        assert clash.before is not None and clash.before["dry_mass_g"] == 46.20


def test_a_clash_settled_on_one_laptop_is_settled_on_all_and_taking_that_back_brings_it_again(
    team: Laptops, build: str
) -> None:
    team.change("a", "build", build, dry_mass_g=46.31)
    team.change("b", "build", build, dry_mass_g=46.13)
    team.meet("c", "a")
    team.meet("c", "b")
    team.meet("a", "c")
    (clash,) = clashes(team.laptops["c"].connection)
    with team.at("c") as one, transaction(one.connection, one.path, asked="merge --settle", by="c"):
        settle(one.connection, clash, 2, by="c")
    assert team.masses("c") == [46.31] and clashes(team.laptops["c"].connection) == []
    team.equal_in_every_order()
    assert [team.masses(name) for name in "abc"] == [[46.31]] * 3
    team.take_back("c")
    (again,) = clashes(team.laptops["c"].connection)
    assert [(one.content or {})["dry_mass_g"] for one in again.heads] == [46.13, 46.31]
    assert team.masses("c") == [46.13]
    team.equal_in_every_order()
    assert [team.masses(name) for name in "abc"] == [[46.13]] * 3
    assert [len(clashes(one.connection)) for one in team.laptops.values()] == [1, 1, 1]


def test_what_each_changed_of_another_field_can_hold_together(team: Laptops, build: str) -> None:
    team.change("a", "build", build, dry_mass_g=46.31)
    team.change("b", "build", build, note="it weeps")
    team.meet("a", "b")
    connection = team.laptops["a"].connection
    (clash,) = clashes(connection)
    with team.at("a") as one, transaction(one.connection, one.path, asked="merge --settle", by="a"):
        settle(one.connection, clash, "both", by="a")
    assert tuple(connection.execute("SELECT dry_mass_g, note FROM builds").fetchone()) == (46.31, "it weeps")
    assert clashes(connection) == []
    team.equal_in_every_order()


def test_equal_changes_are_no_clash_and_who_follows_one_follows_both(team: Laptops, build: str) -> None:
    team.change("a", "build", build, dry_mass_g=46.31)
    team.change("b", "build", build, dry_mass_g=46.31)
    assert team.meet("a", "b").clashes == ()
    team.change("a", "build", build, dry_mass_g=46.32)
    assert team.meet("a", "b").clashes == ()
    team.equal_in_every_order()
    assert [team.masses(name) for name in "abc"] == [[46.32]] * 3
    assert all(clashes(one.connection) == [] for one in team.laptops.values())


def test_removed_in_one_place_and_changed_in_another_lives_until_it_is_settled(team: Laptops, build: str) -> None:
    team.remove("a", "build", build)
    team.change("b", "build", build, dry_mass_g=46.13)
    team.equal_in_every_order()
    for name in "abc":
        (clash,) = clashes(team.laptops[name].connection)
        assert (clash.why, team.masses(name)) == ("removed", [46.13])
        assert [one.is_removal for one in clash.heads] == [False, True]
    team.remove("c", "build", build)
    assert clashes(team.laptops["c"].connection) == []
    team.equal_in_every_order()
    assert [team.masses(name) for name in "abc"] == [[], [], []], "a removal of a clashing record follows all"


def test_what_is_needed_comes_back_until_nothing_needs_it(team: Laptops) -> None:
    fluid = team.add("a", "fluid", label="house 7k", medium="oil")
    diff = team.add("a", "diff", label="rear-a")
    team.start_together()
    team.remove("a", "fluid", fluid)
    build = team.add("b", "build", label="rear-a/1", diff=diff, built_on="2026-05-02", kind="new", fluid=fluid)
    team.equal_in_every_order()
    for name in "abc":
        (clash,) = clashes(team.laptops[name].connection)
        assert (clash.kind.name, clash.why) == ("fluid", "needed")
    team.remove("c", "build", build)
    assert clashes(team.laptops["c"].connection) == []
    assert team.laptops["c"].connection.execute("SELECT count(*) FROM fluids").fetchone()[0] == 0
    team.equal_in_every_order()


def test_who_was_written_is_needed_where_another_stands_for_them(team: Laptops) -> None:
    """A build was written with bo, who was removed elsewhere and is joined to anna: it shows anna, and needs bo."""
    diff = team.add("a", "diff", label="rear-a")
    anna, bo = (team.add("a", "person", name=name) for name in ("anna", "bo"))
    team.start_together()
    team.join("a", "person", anna, bo)
    team.remove("a", "person", bo)
    build = team.add("b", "build", label="rear-a/1", diff=diff, built_on="2026-05-02", kind="new", builder=bo)
    team.meet("a", "b")
    team.add("a", "venue", name="Brickfield")
    team.equal_in_every_order()
    for one in team.laptops.values():
        connection = one.connection
        (clash,) = clashes(connection)
        assert (clash.kind.name, clash.row_id, clash.why) == ("person", bo, "needed")
        assert connection.execute("SELECT builder FROM builds").fetchone()[0] == anna
        assert unlike_rule(connection) == []
    team.remove("a", "build", build)
    assert team.ids("a", "people") == [anna]
    team.equal_in_every_order()


def test_who_only_stands_for_another_is_not_needed_and_goes_with_the_last_that_named_them(team: Laptops) -> None:
    """The other way round: anna stands for bo and was removed; the build that names bo shows bo once she goes."""
    diff = team.add("a", "diff", label="rear-a")
    anna, bo = (team.add("a", "person", name=name) for name in ("anna", "bo"))
    team.add("a", "build", label="rear-a/1", diff=diff, built_on="2026-05-01", kind="new", builder=bo)
    team.start_together()
    team.remove("a", "person", anna)
    team.join("a", "person", anna, bo)
    build = team.add("b", "build", label="rear-a/2", diff=diff, built_on="2026-05-02", kind="new", builder=anna)
    team.meet("a", "b")
    builders = "SELECT builder FROM builds ORDER BY label"
    assert [row[0] for row in team.laptops["a"].connection.execute(builders)] == [anna, anna]
    team.remove("a", "build", build)
    assert team.ids("a", "people") == [bo]
    assert [row[0] for row in team.laptops["a"].connection.execute(builders)] == [bo]
    assert unlike_rule(team.laptops["a"].connection) == []
    team.equal_in_every_order()


def test_what_only_one_that_goes_needed_goes_with_it(team: Laptops) -> None:
    """A fitting needs a build, and the build its oil: both were removed elsewhere, and both go with the fitting."""
    diff = team.add("a", "diff", label="rear-a")
    fluid = team.add("a", "fluid", label="house 7k", medium="oil")
    build = team.add("a", "build", label="rear-a/1", diff=diff, built_on="2026-05-01", kind="new", fluid=fluid)
    team.start_together()
    team.remove("a", "build", build)
    team.remove("a", "fluid", fluid)
    fitting = team.add("b", "seal_fitting", build=build, place="joint")
    team.meet("a", "b")
    assert [one.kind.name for one in clashes(team.laptops["a"].connection)] == ["fluid", "build"]
    team.remove("a", "seal_fitting", fitting)
    assert clashes(team.laptops["a"].connection) == []
    assert team.ids("a", "builds") == team.ids("a", "fluids") == []
    assert unlike_rule(team.laptops["a"].connection) == []
    team.equal_in_every_order()


def test_a_removed_record_that_comes_back_follows_every_removal(team: Laptops) -> None:
    venue = team.add("a", "venue", name="Brickfield")
    team.start_together()
    team.remove("a", "venue", venue)
    team.remove("b", "venue", venue)
    team.meet("c", "a")
    team.meet("c", "b")
    team.write("c", lambda writer: writer.insert(VENUE, {"name": "Brickfield"}, row_id=venue))
    team.equal_in_every_order()
    for one in team.laptops.values():
        assert one.connection.execute("SELECT count(*) FROM venues").fetchone()[0] == 1
        assert clashes(one.connection) == []


SHEET = """date,diff,dry mass (g),oil mass (g),total mass (g),fluid,runs,builder
2026-04-01,rear-a,46.2,1.8,,house 7k,,anna
2026-04-02,rear-a,,,48.0,,2,anna
2026-04-03,rear-a,,,47.9,,3,bo
"""


def test_the_same_sheet_on_two_laptops_adds_nothing_and_a_counted_label_stays_findable(team: Laptops) -> None:
    team.bring_in("a", SHEET)
    diff = team.add("b", "diff", label="rear-a")
    team.add("b", "build", label="rear-a/1", diff=diff, built_on="2026-03-01", kind="new")
    team.bring_in("b", SHEET)
    met = team.meet("a", "b")
    assert met.came["build"] == 1, "bo's own"
    assert "weighing" not in met.came and "run" not in met.came
    team.equal_in_every_order()
    assert met.clashes == ()


def test_rows_of_two_sheets_go_to_the_build_that_was_in_use_and_none_is_turned(team: Laptops) -> None:
    team.bring_in("a", SHEET)
    later = SHEET.splitlines()[0] + "\n2026-04-03,rear-a,46.5,1.9,,house 8k,,bo\n2026-04-05,rear-a,,,48.1,,1,bo\n"
    team.bring_in("b", later, "other.csv")
    team.equal_in_every_order()
    for one in team.laptops.values():
        found = one.connection.execute(
            "SELECT w.weighed_on, b.built_on FROM weighings w JOIN builds b ON b.id = w.build ORDER BY 1"
        )
        assert dict(map(tuple, found)) == {
            "2026-04-02": "2026-04-01",
            "2026-04-03": "2026-04-03",
            "2026-04-05": "2026-04-03",
        }


def test_a_file_taken_back_in_one_place_goes_with_its_rows_and_its_rejects(team: Laptops) -> None:
    team.bring_in("a", SHEET + "2026-04-04,rear-a,about 46,,,,,anna\n")
    team.start_together()
    team.take_back("a")
    team.equal_in_every_order()
    for one in team.laptops.values():
        for table in ("note_files", "note_rejects", "builds", "runs", "weighings"):
            assert one.connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] == 0, table


def test_an_entry_that_stands_beside_another_is_not_taken_back(team: Laptops, build: str) -> None:
    team.change("a", "build", build, dry_mass_g=46.31)
    team.change("b", "build", build, dry_mass_g=46.13)
    team.meet("a", "b")
    before = team.content("a")
    with pytest.raises(TakeBackRefusedError) as refused:
        team.take_back("a")
    assert "was changed in two places" in refused.value.what
    assert team.content("a") == before


def test_a_change_of_another_program_that_somebody_accepted_is_asked_about_nowhere(team: Laptops, build: str) -> None:
    connection = team.laptops["a"].connection
    connection.execute("UPDATE builds SET note = 'dry' WHERE id = ?", (build,))
    team.meet("b", "a")
    team.meet("b", "c")
    assert [one.table for one in changed_by_others(team.laptops["b"].connection)] == ["builds"]
    with team.at("a") as one:
        accept_changes(one.connection, one.path, asked="check --accept", by="a")
    team.meet("b", "a")
    assert changed_by_others(team.laptops["b"].connection) == []
    team.equal_in_every_order()


def test_what_is_invented_stays_apart_unless_asked_for_and_an_empty_database_takes_the_mark_over(
    team: Laptops, build: str
) -> None:
    with team.at("b") as one, transaction(one.connection, one.path):
        mark_invented(one.connection)
    before = team.content("a")
    with pytest.raises(InputError) as refused:
        team.meet("a", "b")
    assert refused.value.code == "invented_and_real" and team.content("a") == before
    team.laptops["c"].put(team.laptops["c"].empty)
    team.meet("c", "b")
    assert is_invented(team.laptops["c"].connection)
    team.meet("a", "b", allow_invented=True)
    assert is_invented(team.laptops["a"].connection)
    assert team.content("a") == team.content("c") == team.content("b")


def test_a_clock_that_is_hours_behind_changes_only_which_of_two_is_shown(team: Laptops, build: str) -> None:
    team.laptops["b"].clock_off_s = -7200.0
    team.change("a", "build", build, dry_mass_g=46.31)
    team.change("b", "build", build, dry_mass_g=46.13)
    team.equal_in_every_order()
    assert [team.masses(name) for name in "abc"] == [[46.31]] * 3
    team.change("b", "build", build, note="checked")
    assert team.masses("b") == [46.31], "what is shown keeps to the rule"
    team.equal_in_every_order()
