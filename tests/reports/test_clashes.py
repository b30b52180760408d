"""Clashes in words: numbers, values, who and when, and the command that settles. All data are constructed."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from clashing import copy_of, merged
from conftest import Outcome

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.check import MOST_CLASHES, check
from bevelbook.reports.clashes import clash_named, refuse_other_versions, said_clashes
from bevelbook.reports.clashes_there import clashes_about
from bevelbook.store.lookup import find_id
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Outcome]


@pytest.fixture
def team(bevelbook: Run, db: Path) -> Callable[..., Outcome]:
    """Run a command on a database as somebody; ana has recorded a diff, a build and a person."""

    def say(path: Path, by: str, *words: str) -> Outcome:
        done = bevelbook("--db", path, "--by", by, *words)
        assert done.code in (0, 1), done.err
        return done

    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g", "oil_mass=1.86g")
    return say


def said_of(db: Path) -> list[str]:
    with closing(open_for_reading(db)) as connection:
        return ["\n".join(one.lines()) for one in said_clashes(connection, today=date(2026, 5, 4))]


def test_of_many_clashes_the_first_are_printed_and_the_rest_counted(
    team: Callable[..., Outcome], db: Path, registry: Registry
) -> None:
    other = copy_of(db, "bo")
    team(other, "bo", "record", "build", "rear-a/1", "dry_mass=46.31g")
    team(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.13g")
    merged(db, other)
    with closing(open_for_reading(db)) as connection:
        one = check(connection, registry)
    assert len(one.clashes) == 1
    printed = [*one._replace(clashes=one.clashes * (MOST_CLASHES + 5)).lines()]
    assert sum(line.startswith("  clash: ") for line in printed) == MOST_CLASHES
    assert "  5 more are in clash: they come as these are settled." in printed
    assert not any("more are in clash" in line for line in one._replace(clashes=one.clashes * MOST_CLASHES).lines())


def test_one_field_changed_in_two_places_is_said_with_its_values_alone(team: Callable[..., Outcome], db: Path) -> None:
    other = copy_of(db, "bo")
    team(other, "bo", "record", "build", "rear-a/1", "dry_mass=46.31g")
    team(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.13g")
    merged(db, other)
    (words,) = said_of(db)
    at = r"\d+ [A-Z][a-z]{2}(?: \d{4})? \d\d:\d\d"
    assert re.fullmatch(
        rf"  clash: build rear-a/1: dry mass\n    1  46\.13 g, ana, {at} \(shown\)\n    2  46\.31 g, bo, {at}\n"
        r'    -> say which holds: bevelbook merge --settle "build rear-a/1" N --seen [0-9a-f]{4}\n'
        r"       with 1 or 2 for N",
        words,
    ), words
    checked = team(db, "ana", "check")
    assert checked.code == 1
    assert words.splitlines()[0] in checked.out
    assert "1 clash to settle." in checked.out
    assert team(db, "ana", "check", "--json").json["clashes"][0]["name"] == "build rear-a/1"
    shown = team(db, "ana", "record", "build", "rear-a/1").out
    assert "Clash: build rear-a/1, dry mass: 46.13 g (ana," in " ".join(shown.split())
    card = team(db, "ana", "card", "rear-a/1").out
    assert "CLASH: build rear-a/1, dry mass: 46.13 g (ana," in " ".join(card.split())


def test_changes_of_different_fields_may_both_hold(team: Callable[..., Outcome], db: Path) -> None:
    other = copy_of(db, "bo")
    team(other, "bo", "record", "build", "rear-a/1", "note=notchy")
    team(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.13g")
    merged(db, other)
    with closing(open_for_reading(db)) as connection:
        (one,) = said_clashes(connection)
    assert one.heading == "build rear-a/1: dry mass, note"
    assert [version.words for version in one.versions] == [
        "dry mass 46.13 g; as before note empty",
        "note notchy; as before dry mass 46.20 g",
    ]
    assert one.both == "dry mass 46.13 g (ana) and note notchy (bo)"
    assert "or both for N: dry mass 46.13 g (ana) and note notchy (bo)" in one.ways


def test_what_one_side_alone_changed_is_not_said_to_be_the_others(team: Callable[..., Outcome], db: Path) -> None:
    other = copy_of(db, "bo")
    team(other, "bo", "record", "build", "rear-a/1", "dry_mass=46.31g")
    team(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.13g", "oil_mass=1.90g", "note=notchy")
    merged(db, other)
    with closing(open_for_reading(db)) as connection:
        (one,) = said_clashes(connection)
    assert one.heading == "build rear-a/1: dry mass"
    assert [version.words for version in one.versions] == [
        "dry mass 46.13 g; oil mass 1.90 g; note notchy",
        "dry mass 46.31 g; as before oil mass 1.86 g, note empty",
    ]
    assert "or 2+others for N: dry mass 46.31 g (bo), with oil mass 1.90 g (ana) and note notchy (ana)" in one.ways
    settled = team(db, "ana", "merge", "--settle", "build rear-a/1", "2")
    assert "dry mass 46.31 g; as before oil mass 1.86 g, note empty (bo," in " ".join(settled.out.split())


def test_values_that_read_alike_are_said_exactly(team: Callable[..., Outcome], db: Path) -> None:
    other = copy_of(db, "bo")
    team(other, "bo", "record", "build", "rear-a/1", "dry_mass=46.132g")
    team(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.131g")
    merged(db, other)
    with closing(open_for_reading(db)) as connection:
        (one,) = said_clashes(connection)
    assert [version.words for version in one.versions] == ["46.13 g (46.131)", "46.13 g (46.132)"]


def test_a_reference_is_said_by_its_name(team: Callable[..., Outcome], db: Path) -> None:
    team(db, "ana", "record", "person", "name=ana")
    team(db, "ana", "record", "person", "name=bo")
    other = copy_of(db, "bo")
    team(other, "bo", "record", "build", "rear-a/1", "builder=bo")
    team(db, "ana", "record", "build", "rear-a/1", "builder=ana")
    merged(db, other)
    with closing(open_for_reading(db)) as connection:
        (one,) = said_clashes(connection)
    assert [version.words for version in one.versions] == ["ana", "bo"]


def test_a_clash_is_named_as_printed_and_stands_on_the_page_of_what_it_is_part_of(
    team: Callable[..., Outcome], db: Path
) -> None:
    team(db, "ana", "record", "weighing", "build=rear-a/1", "weighed_on=2026-05-10", "mass=48.0g", "runs=3", "--yes")
    other = copy_of(db, "bo")
    team(other, "bo", "record", "weighing", "rear-a/1#1", "note=dry")
    team(db, "ana", "record", "weighing", "rear-a/1#1", "note=dripping")
    merged(db, other)
    with closing(open_for_reading(db)) as connection:
        said = said_clashes(connection)
        build = find_id(connection, BY_NAME["build"], "rear-a/1")
        diff = find_id(connection, BY_NAME["diff"], "rear-a")
        assert clashes_about(connection, BY_NAME["build"], build) == said
        assert clashes_about(connection, BY_NAME["diff"], diff) == []
    (one,) = said
    for typed in (one.name, one.name.upper(), one.row_id, one.name.removeprefix("weighing ")):
        assert clash_named(said, typed) == one
    with pytest.raises(UnknownNameError, match=re.escape(f"In clash: {one.name}.")):
        clash_named(said, "build rear-a/9")
    refuse_other_versions(one, None)
    refuse_other_versions(one, one.seen)
    with pytest.raises(InputError, match=r"has changed since it was looked at.*Now it is: 1  dripping, ana"):
        refuse_other_versions(one, "0000")
