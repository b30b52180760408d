"""What refuses a take-back, each on constructed records, and what is as it was before after one."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from canonical import dumped, facts_dumped, records_dumped

from bevelbook.declare.errors import UnknownNameError
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.entry_contents import EntryBook, PastEntry
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.take_back import plan_of
from bevelbook.store.writing import Writer
from bevelbook.taking_back.choosing import chosen
from bevelbook.taking_back.refusals import TakeBackRefusedError
from bevelbook.taking_back.take_back import Outcome, plans_of, take_back

Act = Callable[[Writer], Any]


class Bench:
    """A database in which each act is one entry."""

    def __init__(self, path: Path, registry: Registry) -> None:
        self.path, self.registry = path, registry
        self.connection = open_for_writing(path)

    def entry(self, act: Act, by: str = "ana", asked: str = "an act") -> Any:
        with transaction(self.connection, self.path, asked=asked, by=by):
            return act(Writer(self.connection, by))

    def last(self) -> PastEntry:
        return EntryBook(self.connection).all[-1]

    def number(self, number: int) -> PastEntry:
        found = EntryBook(self.connection).numbered(number)
        assert found is not None
        return found

    def back(self, *entries: PastEntry) -> Outcome:
        return take_back(self.connection, self.path, entries, self.registry, by="ana")

    def dump(self) -> tuple[str, str]:
        return records_dumped(self.connection), facts_dumped(self.connection)


@pytest.fixture
def bench(db: Path, registry: Registry) -> Iterator[Bench]:
    made = Bench(db, registry)
    yield made
    made.connection.close()


def adding(kind: str, **values: Any) -> Act:
    return lambda writer: writer.insert(BY_NAME[kind], values)


def changing(kind: str, row_id: str, **values: Any) -> Act:
    return lambda writer: writer.update(BY_NAME[kind], row_id, values)


def removing(table: str, row_id: str) -> Act:
    return lambda writer: writer.connection.execute(f"DELETE FROM {table} WHERE id = ?", (row_id,))


def refusal(bench: Bench, entry: PastEntry) -> str:
    """The words of the refusal; nothing is changed by it."""
    before = bench.dump()
    with pytest.raises(TakeBackRefusedError) as planned:
        plans_of(bench.connection, entry)
    with pytest.raises(TakeBackRefusedError) as tried:
        bench.back(entry)
    assert str(planned.value) == str(tried.value)
    assert bench.dump() == before
    return str(planned.value)


def test_a_record_with_a_later_version_is_refused_with_its_entry(bench: Bench) -> None:
    venue = bench.entry(adding("venue", name="Brickfield"))
    bench.entry(changing("venue", venue, surface="carpet"), by="ben", asked="record venue Brickfield surface=carpet")
    said = refusal(bench, bench.number(1))
    assert "venue Brickfield was written since by entry 2 of ben (record venue Brickfield surface=carpet)" in said


def test_a_version_that_a_merge_would_bring_is_later_as_well(bench: Bench) -> None:
    """Its entry comes with it and is as old as it was made elsewhere."""
    venue = bench.entry(adding("venue", name="Brickfield"))
    bench.connection.execute(
        "INSERT INTO entries (id, made_at, made_by, asked) VALUES ('elsewhere', '2020-01-01T00:00:00.000Z', 'cem', 'x')"
    )
    bench.entry(lambda writer: writer.update(BY_NAME["venue"], venue, {"surface": "wood"}, version="elsewhere"))
    mine = next(one for one in EntryBook(bench.connection).all if one.made_by == "ana")
    assert "venue Brickfield was written since by entry 2 of cem (x)" in refusal(bench, mine)


def test_a_change_by_another_program_is_later_too(bench: Bench, db: Path) -> None:
    bench.entry(adding("venue", name="Brickfield"))
    with closing(sqlite3.connect(db)) as other, other:
        other.execute("UPDATE venues SET surface = 'dirt'")
    assert "venue Brickfield was written since by another program" in refusal(bench, bench.number(1))


def test_later_versions_that_were_taken_back_are_not_in_the_way(bench: Bench) -> None:
    empty = bench.dump()
    venue = bench.entry(adding("venue", name="Brickfield"))
    bench.entry(changing("venue", venue, surface="carpet"))
    bench.back(bench.number(2))
    bench.back(bench.number(1))
    assert bench.dump() == empty


def test_what_it_would_point_to_is_gone(bench: Bench) -> None:
    scale = bench.entry(adding("scale", name="bench", step_g=0.01))
    diff = bench.entry(adding("diff", label="rear-a"))
    build = bench.entry(adding("build", label="rear-a/1", diff=diff, built_on="2026-05-01", scale=scale))
    bench.entry(changing("build", build, scale=None), asked="record build rear-a/1 scale=")
    bench.entry(removing("scales", scale))
    said = refusal(bench, bench.number(4))
    assert "build rear-a/1 would come back with a scale that was removed since" in said
    bench.back(bench.number(5))
    bench.back(bench.number(4))
    assert bench.connection.execute("SELECT scale FROM builds").fetchone()[0] == scale


def test_an_earlier_value_that_the_checks_of_today_refuse(bench: Bench) -> None:
    venue = bench.entry(adding("venue", name="Brickfield", surface="carpet"))
    bench.entry(changing("venue", venue, surface="wood"))
    (content,) = bench.connection.execute("SELECT content FROM history").fetchone()
    bench.connection.execute("UPDATE history SET content = ?", (content.replace("carpet", "moss"),))
    before = bench.dump()
    with pytest.raises(TakeBackRefusedError, match="the earlier value of venue Brickfield does not fit"):
        bench.back(bench.number(2))
    assert bench.dump() == before


def test_an_earlier_content_with_a_field_that_is_not_known(bench: Bench) -> None:
    venue = bench.entry(adding("venue", name="Brickfield"))
    bench.entry(changing("venue", venue, surface="wood"))
    (content,) = bench.connection.execute("SELECT content FROM history").fetchone()
    bench.connection.execute("UPDATE history SET content = ?", (json.dumps({**json.loads(content), "roof": 1}),))
    assert "has a field that this version does not know (roof)" in refusal(bench, bench.number(2))


@pytest.mark.parametrize("content", [None, "not JSON"])
def test_an_earlier_content_that_is_gone(bench: Bench, content: str | None) -> None:
    venue = bench.entry(adding("venue", name="Brickfield"))
    bench.entry(changing("venue", venue, surface="wood"))
    bench.connection.execute("UPDATE history SET content = ?", (content,))
    assert "what venue Brickfield was before has been erased" in refusal(bench, bench.number(2))


def test_a_removed_record_whose_content_is_gone(bench: Bench) -> None:
    venue = bench.entry(adding("venue", name="Brickfield"))
    bench.entry(removing("venues", venue))
    bench.connection.execute("UPDATE history SET content = NULL WHERE replaced_in IS NOT NULL")
    assert "was before has been erased" in refusal(bench, bench.number(2))


def test_a_finding_put_by_about_a_record_uses_it(bench: Bench) -> None:
    diff = bench.entry(adding("diff", label="rear-a"))
    bench.entry(
        adding("put_by", code="stiff", subject_table="diffs", subject_id=diff, words="stiff", reason="it is new")
    )
    assert "diff rear-a is used by" in refusal(bench, bench.number(1))


def test_several_later_ones_are_named_and_taken_back_newest_first(bench: Bench) -> None:
    empty = bench.dump()
    diff = bench.entry(adding("diff", label="rear-a"))
    build = bench.entry(adding("build", label="rear-a/1", diff=diff, built_on="2026-05-01"), by="ben")
    bench.entry(changing("build", build, note="stiff"), by="cem")
    apart = bench.entry(adding("venue", name="Brickfield"))
    plans = plans_of(bench.connection, bench.number(1), and_later=True)
    assert [plan.entry.number for plan in plans] == [3, 2, 1]
    done = bench.back(*(plan.entry for plan in plans))
    assert [one.entry.made_by for one in done.taken] == ["cem", "ben", "ana"]
    assert bench.connection.execute("SELECT id FROM venues").fetchone()[0] == apart
    bench.back(bench.number(4))
    assert bench.dump() == empty
    takers = EntryBook(bench.connection).all[4:]
    assert [bench.connection.execute("SELECT 1 FROM entries WHERE id = ?", (one.id,)).fetchone()[0] for one in takers]
    assert [next(one.number for one in bench_all(bench) if one.id == taker.took_back) for taker in takers] == [
        3,
        2,
        1,
        4,
    ]


def bench_all(bench: Bench) -> tuple[PastEntry, ...]:
    return EntryBook(bench.connection).all


def test_a_record_changed_twice_by_one_entry_gets_what_it_was_before_both(bench: Bench) -> None:
    venue = bench.entry(adding("venue", name="Brickfield", altitude_m=0.1 + 0.2))
    before = bench.dump()

    def twice(writer: Writer) -> None:
        writer.update(BY_NAME["venue"], venue, {"surface": "wood", "altitude_m": 7})
        writer.update(BY_NAME["venue"], venue, {"surface": "dirt"})

    bench.entry(twice)
    bench.back(bench.number(2))
    assert bench.dump() == before


def test_an_added_and_removed_record_of_one_entry_leaves_nothing_to_take_back(bench: Bench) -> None:
    def both(writer: Writer) -> None:
        row_id = writer.insert(BY_NAME["venue"], {"name": "Brickfield"})
        writer.connection.execute("DELETE FROM venues WHERE id = ?", (row_id,))

    bench.entry(both)
    with pytest.raises(TakeBackRefusedError, match="left nothing to take back"):
        bench.back(bench.number(1))


def test_each_record_taken_back_is_a_new_version_after_the_one_before(bench: Bench) -> None:
    venue = bench.entry(adding("venue", name="Brickfield"))
    bench.entry(changing("venue", venue, surface="wood"))
    bench.back(bench.number(2))
    version, parents = bench.connection.execute("SELECT version, parents FROM venues").fetchone()
    assert version == bench.number(3).id
    assert json.loads(parents) == [bench.number(2).id]
    bench.back(bench.number(1))
    removal = bench.connection.execute("SELECT version, parents FROM history WHERE content IS NULL").fetchone()
    assert tuple(removal) == (bench.number(4).id, json.dumps([version]))


def test_a_plan_writes_nothing(bench: Bench, db: Path) -> None:
    bench.entry(adding("diff", label="rear-a"))
    before = dumped(db)
    changes = bench.connection.total_changes
    plan = plan_of(EntryBook(bench.connection), bench.number(1))
    assert [(one.what, one.kind.name) for one in plan.removed] == [("added", "diff")]
    assert bench.connection.total_changes == changes
    assert dumped(db) == before


def test_an_older_entry_that_comes_in_later_leaves_the_numbers_of_the_others(bench: Bench) -> None:
    """The number that was printed yesterday names the same entry today, whatever came in from a team mate meanwhile."""
    bench.entry(adding("venue", name="Brickfield"))
    bench.entry(adding("venue", name="Tannery Hall"))
    before = {one.number: one.id for one in EntryBook(bench.connection).all}
    bench.connection.execute(
        "INSERT INTO entries (id, made_at, made_by, asked) VALUES "
        "('01900000-0000-7000-8000-000000000000', '2020-05-03T10:00:00.000Z', 'bo', 'record venue')"
    )
    entries = EntryBook(bench.connection)
    assert {one.number: one.id for one in entries.all if one.made_by == "ana"} == before
    assert [one.number for one in entries.all] == [3, 1, 2], "in the order of time"
    assert chosen(entries, "2", by="ana", of=()).id == before[2]
    with pytest.raises(UnknownNameError):
        chosen(entries, "9" * 5000, by="ana", of=())


def test_a_row_left_out_of_a_file_is_not_called_by_the_name_of_its_table() -> None:
    from bevelbook.records import BY_NAME
    from bevelbook.taking_back.words import kind_words

    assert kind_words(BY_NAME["note_reject"]) == "row left out"
