"""Which records are one thing follows from names and joins alone, and references show what stands for them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from random import Random
from typing import Any

import pytest
from constructed import adding
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_edits import Edits
from released import released

from bevelbook.facts.renew import stale
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.as_written import follow_joins, out_of_step, written_references
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.ids import content_id, new_id
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.same_things import SaidOfTwo, Thing, join_id, stands_for
from bevelbook.store.two_of_a_name import keep_apart
from bevelbook.store.writing import Writer

IDS = "abcdefg"
NAMES = ("rear-a", "Rear-A", "rear-b", '"rear-b"', "front")
things = st.lists(
    st.builds(Thing, st.just("diff"), st.sampled_from(IDS), st.sampled_from(NAMES)), unique_by=lambda one: one.id
)
said = st.lists(
    st.builds(SaidOfTwo, st.just("diff"), st.sampled_from(IDS), st.sampled_from(IDS), st.booleans()), max_size=8
)


@given(things, said, st.randoms(use_true_random=False))
def test_the_order_of_records_and_joins_never_matters(
    there: list[Thing], joins: list[SaidOfTwo], random: Random
) -> None:
    found = stands_for(there, joins)
    random.shuffle(there)
    random.shuffle(joins)
    assert stands_for(there, [*joins, *joins[:1]]) == found


@given(things, said)
def test_what_stands_for_others_stands_for_itself_and_two_that_are_two_are_never_one(
    there: list[Thing], joins: list[SaidOfTwo]
) -> None:
    found = stands_for(there, joins)
    living = {one.id for one in there}
    assert {row_id for _, row_id in found} | set(found.values()) <= living
    assert not {("diff", stands) for stands in found.values()} & found.keys()
    shown = {row_id: found.get(("diff", row_id), row_id) for row_id in living}
    ones = {frozenset((one.one, one.other)) for one in joins if one.is_same}
    for one in joins:
        two = not one.is_same and one.one != one.other and frozenset((one.one, one.other)) not in ones
        if two and {one.one, one.other} <= living:
            assert shown[one.one] != shown[one.other], "a person said that they are two"


@pytest.mark.parametrize(
    ("labels", "joins", "expected"),
    [
        ({"a": "bo", "b": "Bo "}, [], {"b": "a"}),
        ({"a": "bo", "b": "bo"}, [("a", "b", False)], {}),
        ({"a": "bo", "b": "Robert"}, [("b", "a", True)], {"a": "b"}),
        ({"a": "x", "b": "y", "c": "z"}, [("b", "a", True), ("c", "b", True)], {"a": "c", "b": "c"}),
        ({"a": "x", "b": "y"}, [("a", "b", True), ("b", "a", True)], {"b": "a"}),
        ({"a": "x", "b": "x", "c": "y"}, [("a", "b", False), ("a", "c", True)], {"c": "a"}),
        ({"a": "x", "b": "y", "c": "y"}, [("a", "b", True), ("a", "c", False)], {"b": "a"}),
        ({"a": "x"}, [("a", "gone", True), ("a", "a", False)], {}),
    ],
)
def test_who_stands_for_whom(
    labels: dict[str, str], joins: list[tuple[str, str, bool]], expected: dict[str, str]
) -> None:
    there = [Thing("diff", row_id, label) for row_id, label in labels.items()]
    found = stands_for(there, [SaidOfTwo("diff", *one) for one in joins])
    assert {row_id: stands for (_, row_id), stands in found.items()} == expected


def test_one_made_by_hand_stands_for_one_made_by_notes_and_kinds_are_apart() -> None:
    by_notes, by_hand = content_id("1970-01-01", "diff\0rear-a"), new_id()
    assert by_notes < by_hand
    found = stands_for([Thing("diff", by_notes, "rear-a"), Thing("diff", by_hand, "rear-a")], [])
    assert found == {("diff", by_notes): by_hand}
    assert (
        stands_for([Thing("diff", "a", "blue"), Thing("car", "b", "blue")], [SaidOfTwo("diff", "a", "b", True)]) == {}
    )
    assert join_id("diff", "a", "b") == join_id("diff", "b", "a") != join_id("car", "a", "b")


Change = Callable[[Writer], object]


class Laptop:
    """A database to which entries are written by anna."""

    def __init__(self, path: Path) -> None:
        self.path, self.connection = path, new_database(path)
        self.ids: dict[str, str] = {}

    def entry(self, change: Change) -> None:
        with transaction(self.connection, self.path, by="anna"):
            change(Writer(self.connection, "anna"))
        assert out_of_step(self.connection) == 0
        assert set(stale(self.connection).values()) == {0}
        assert self.connection.execute("PRAGMA foreign_key_check").fetchall() == []

    def add(self, key: str, of_kind: str, /, **values: Any) -> None:
        def change(writer: Writer) -> None:
            self.ids[key] = adding(writer)(
                of_kind, **{name: self.ids.get(value, value) for name, value in values.items()}
            )

        self.entry(change)

    def join(self, one: str, other: str, kind: str = "diff", same: str = "yes") -> str:
        made = join_id(kind, self.ids[one], self.ids[other])
        values = {"kind": kind, "one": self.ids[one], "other": self.ids[other], "same": same}
        self.entry(lambda writer: writer.insert(BY_NAME["join"], values, row_id=made))
        return made

    def rows(self) -> dict[str, list[tuple[Any, ...]]]:
        """All records, what is written in their references, and facts; not the joins and their past."""
        tables = [kind.table for kind in KINDS if kind.own and kind.name != "join"]
        tables += ["as_written", "one_with", "build_facts", "run_diff_facts", "diff_facts"]
        return {
            table: [tuple(row) for row in self.connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2, 3")]
            for table in tables
        }

    def one(self, sql: str, *values: object) -> Any:
        return self.connection.execute(sql, values).fetchone()[0]


def filled(path: Path) -> Laptop:
    made = Laptop(path)
    for key, name in (("a", "rear-a"), ("b", "rear-A2"), ("c", "rear-c")):
        made.add(key, "diff", label=name)
    for key, name in (("anna", "anna"), ("bo", "bo"), ("Bo", "B.")):
        made.add(key, "person", name=name)
    made.add("a1", "build", label="rear-a/1", diff="a", built_on="2026-05-01", builder="bo", kind="new")
    made.add("b1", "build", label="rear-A2/1", diff="b", built_on="2026-05-03", builder="Bo", kind="rebuild")
    made.add("b2", "build", label="rear-A2/2", diff="b", built_on="2026-05-09", builder="anna", kind="oil change")
    made.add("limit", "limit", kind="seal uses", value=4.0, diff="b")
    made.add("r1", "run", label="2026-05-10/1", run_on="2026-05-10", runs=2.0, driver="Bo")
    made.add("x1", "run_diff", run="r1", build="b2", position="rear")
    return made


@pytest.fixture
def laptop(tmp_path: Path) -> Iterator[Laptop]:
    made = filled(tmp_path / "team.db")
    with closing(made.connection):
        yield made


@pytest.fixture(scope="module")
def laptop_of_all(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Laptop]:
    made = filled(tmp_path_factory.mktemp("all") / "team.db")
    with closing(made.connection):
        yield made


def test_builds_of_two_diffs_are_of_the_one_that_stands_for_both_and_history_keeps_what_was_written(
    laptop: Laptop,
) -> None:
    ids = laptop.ids
    laptop.join("a", "b")
    assert laptop.one("SELECT count(*) FROM builds WHERE diff = ?", ids["a"]) == 3
    assert laptop.one("SELECT current_build FROM diff_facts") == laptop.one(
        "SELECT id FROM builds WHERE label = ?", "rear-A2/2"
    )
    assert laptop.one("SELECT count(*) FROM diff_facts") == 2, "none of its own for the other"
    assert laptop.one("SELECT diff FROM limits") == ids["a"]
    assert laptop.one("SELECT count(*) FROM history") == 0, "nobody changed anything"
    laptop.entry(lambda writer: writer.update(BY_NAME["build"], ids["b1"], {"note": "shim moved"}))
    (kept,) = laptop.connection.execute("SELECT content FROM history").fetchall()
    assert json.loads(kept[0])["diff"] == ids["b"]
    states = EntryBook(laptop.connection).states(BY_NAME["build"], ids["b1"])
    assert [state.content["diff"] for state in states if state.content] == [ids["b"], ids["b"]]
    assert written_references(laptop.connection, BY_NAME["build"], [ids["a1"], ids["b1"]]) == {
        ids["b1"]: {"diff": ids["b"]}
    }


def test_a_reference_that_a_person_changes_is_written_anew(laptop: Laptop) -> None:
    ids = laptop.ids
    laptop.join("a", "b")

    def change(writer: Writer) -> None:
        writer.update(BY_NAME["build"], ids["b1"], {"note": "first"})
        writer.update(BY_NAME["build"], ids["b1"], {"diff": ids["c"]})

    laptop.entry(change)
    assert written_references(laptop.connection, BY_NAME["build"], [ids["b1"]]) == {}
    laptop.entry(lambda writer: writer.update(BY_NAME["build"], ids["b1"], {"diff": ids["b"]}))
    assert laptop.one("SELECT diff FROM builds WHERE id = ?", ids["b1"]) == ids["a"]
    assert written_references(laptop.connection, BY_NAME["build"], [ids["b1"]]) == {ids["b1"]: {"diff": ids["b"]}}
    written = [
        json.loads(row[0])["diff"] for row in laptop.connection.execute("SELECT content FROM history ORDER BY id")
    ]
    assert written == [ids["b"], ids["c"]]


@settings(max_examples=12)
@given(order=st.permutations(["ab", "bc", "people", "other way"]), back=st.permutations(range(4)))
def test_joins_made_and_removed_in_any_order_leave_exactly_the_rows_as_before(
    laptop_of_all: Laptop, order: list[str], back: list[int]
) -> None:
    laptop = laptop_of_all
    ways = {
        "ab": ("a", "b", "diff", "yes"),
        "bc": ("b", "c", "diff", "yes"),
        "people": ("bo", "Bo", "person", "yes"),
        "other way": ("c", "a", "diff", "no"),
    }
    before = laptop.rows()
    made = [laptop.join(*ways[name]) for name in order]
    assert laptop.rows() != before
    for place in back:
        laptop.entry(lambda writer, place=place: writer.remove(BY_NAME["join"], made[place]))
    assert laptop.rows() == before
    with transaction(laptop.connection, laptop.path):
        laptop.connection.execute("DELETE FROM history")


def test_one_that_stands_for_others_goes_only_while_nothing_was_written_with_it(laptop: Laptop) -> None:
    ids = laptop.ids
    laptop.join("c", "b")
    assert laptop.one("SELECT count(*) FROM builds WHERE diff = ?", ids["c"]) == 2

    def remove(writer: Writer) -> None:
        writer.connection.execute("PRAGMA defer_foreign_keys = ON")
        writer.remove(BY_NAME["diff"], ids["c"])
        assert follow_joins(writer.connection)

    laptop.entry(remove)
    assert laptop.one("SELECT count(*) FROM builds WHERE diff = ?", ids["b"]) == 2


def test_a_second_of_a_name_that_was_asked_for_stays_a_second(laptop: Laptop) -> None:
    def add(writer: Writer) -> None:
        laptop.ids["other bo"] = writer.insert(BY_NAME["person"], {"name": "BO"})
        assert keep_apart(writer, BY_NAME["person"], laptop.ids["other bo"]) == 1
        assert keep_apart(writer, BY_NAME["person"], laptop.ids["other bo"]) == 1, "said once"

    laptop.entry(add)
    assert laptop.one("SELECT count(*) FROM joins") == 1
    assert laptop.one("SELECT count(*) FROM one_with") == 0
    laptop.add("third", "person", name=" bo")
    assert laptop.one("SELECT stands FROM one_with WHERE id = ?", laptop.ids["third"]) == laptop.ids["bo"]


def test_what_another_program_writes_is_followed_when_the_database_is_next_written(laptop: Laptop) -> None:
    ids = laptop.ids
    laptop.join("a", "b")
    with closing(sqlite3.connect(laptop.path)) as other:
        other.execute("UPDATE builds SET diff = ? WHERE id = ?", (ids["c"], ids["b1"]))
        other.execute("UPDATE builds SET diff = ? WHERE id = ?", (ids["b"], ids["a1"]))
        other.execute("INSERT INTO people (id, created_at, updated_at, name) VALUES ('x', 't', 't', 'ANNA')")
        other.execute(
            "INSERT OR REPLACE INTO limits (id, created_at, updated_at, kind, value) "
            "VALUES (?, 't', 't', 'seal uses', 3.0)",
            (ids["limit"],),
        )
        other.commit()
    laptop.entry(lambda writer: writer.insert(BY_NAME["idea"], {"text": "softer front oil"}))
    assert laptop.one("SELECT diff FROM builds WHERE id = ?", ids["b1"]) == ids["c"]
    assert laptop.one("SELECT diff FROM builds WHERE id = ?", ids["a1"]) == ids["a"]
    assert written_references(laptop.connection, BY_NAME["build"], [ids["a1"], ids["b1"]]) == {
        ids["a1"]: {"diff": ids["b"]}
    }
    assert laptop.one("SELECT count(*) FROM one_with WHERE kind = 'person'") == 1
    assert laptop.one("SELECT count(*) FROM as_written WHERE table_name = 'limits'") == 0
    past = laptop.one("SELECT content FROM history WHERE table_name = 'limits' AND content IS NOT NULL")
    assert json.loads(past)["diff"] == ids["b"]


@pytest.mark.parametrize("seed", range(3))
def test_facts_and_references_follow_any_edits_where_names_are_equal(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "team.db"
    with closing(new_database(path)) as connection:
        edits = Edits(connection, seed, are_names_equal=True)
        with transaction(connection, path):
            edits.fill()
        while len(edits.log) < 300:
            begun = len(edits.log)
            with transaction(connection, path):
                for _ in range(edits.random.randint(1, 8)):
                    edits.one()
            done = "\n".join(edits.log[begun:])
            assert out_of_step(connection) == 0, done
            assert set(stale(connection).values()) == {0}, done
        assert connection.execute("SELECT count(*) FROM as_written").fetchone()[0] > 10
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def test_equal_names_of_an_older_database_were_asked_for(tmp_path: Path) -> None:
    for name in ("one.db", "other.db"):
        path = released(tmp_path / name)
        with closing(sqlite3.connect(path)) as old:
            for row_id, person in (("x", "twin"), ("y", "Twin"), ("z", "alone")):
                old.execute(
                    "INSERT INTO people (id, created_at, updated_at, name) VALUES (?, '2026-01-0' || ?, 't', ?)",
                    (row_id, "xyz".index(row_id) + 1, person),
                )
            old.commit()
    joins = []
    for name in ("one.db", "other.db"):
        with closing(open_for_writing(tmp_path / name)) as connection:
            joins.append([tuple(row) for row in connection.execute("SELECT * FROM joins ORDER BY id")])
            assert connection.execute("SELECT count(*) FROM one_with").fetchone()[0] == 0
            assert [row[0] for row in connection.execute("SELECT id FROM joins")] == [join_id("person", "x", "y")]
    assert joins[0] == joins[1]
