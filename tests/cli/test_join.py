"""Two records that are one thing, said by a command: what it moves, what it refuses, and that it can be taken back.

The team and its figures are invented.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from conftest import Begin, Outcome

from bevelbook.plugin.check import Finding
from bevelbook.records import BY_NAME
from bevelbook.reports.put_by import PutByFindings
from bevelbook.reports.search import search_records
from bevelbook.store.lookup import find_id, labels_of
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.entry.likely_records import likely_records
from bevelbook.web.entry.people import people_of

Run = Callable[..., Outcome]
Say = Callable[[str, str], Outcome]
SEASON = (
    ("anna", "diff label=rear-a screw_count=4"),
    ("bo", 'diff "label=rear A" housing_material=nylon housing_mass=11.2g screw_count=5'),
    ("anna", "build diff=rear-a built_on=2026-05-01 dry_mass=12.4g oil_mass=1.8g"),
    ("bo", 'build "diff=rear A" built_on=2026-05-03 dry_mass=12.41g oil_mass=1.81g'),
    ("bo", 'limit kind="seal uses" value=3 "diff=rear A"'),
    ("anna", "person name=bo"),
    ("bo", 'person "name=Bo B."'),
)


@pytest.fixture
def say(bevelbook: Run, begin: Begin, db: Path) -> Say:
    """Run a command of somebody on a team's database: ``say("anna", "join diff rear-a rear-b")``."""
    begin(bevelbook, db, *(("--db", db, "--by", by, "record", *shlex.split(words)) for by, words in SEASON))
    return lambda by, words: bevelbook("--db", db, "--by", by, *shlex.split(words))


def shelf(say: Say) -> list[str]:
    return [one["diff"] for one in say("anna", "check --json").json["diffs"]]


def test_what_was_written_of_either_is_of_both_and_is_parted_again_when_it_is_taken_back(
    bevelbook: Run, say: Say
) -> None:
    before = say("cy", "export --table builds --csv - --names")
    tried = say("anna", "join diff rear-a 'rear A' --dry-run")
    assert "Nothing was written." in tried.out
    assert shelf(say) == ["rear A", "rear-a"]
    done = say("anna", "join diff rear-a 'rear A'")
    assert done.code == 0
    assert done.out.splitlines()[:4] == [
        "rear-a and rear A are one diff now, called rear-a.",
        "  rear A had 1 build",
        "  rear A had 1 limit",
        "  rear-a now has 2 builds, 1 of them written under rear A",
    ]
    text = " ".join(done.out.split())
    assert "housing material nylon is noted with rear A alone" in text
    assert "record diff rear-a housing_mass=11.2g' takes it over" in text
    assert "screws of rear A does not hold" in text or "5 of rear A does not hold" in text
    assert shelf(say) == ["rear-a"]
    assert "also written bo's rear A: joined by anna on" in say("bo", "join").out
    assert say("bo", "record diff 'rear A' housing_mass=11.2g").out.startswith("Changed diff rear-a")
    assert say("anna", "take-back --of bo").code == 0
    way_back = re.search(r"'bevelbook (--db .+ --by anna take-back 8)' undoes it\.", done.out)
    assert way_back, done.out
    assert "removed join diff rear-a and rear A" in bevelbook(*shlex.split(way_back[1])).out
    assert shelf(say) == ["rear A", "rear-a"]
    assert say("cy", "export --table builds --csv - --names").out == before.out


def test_a_join_that_was_taken_back_keeps_both_names_in_the_history_and_where_books_meet(
    bevelbook: Run, say: Say, db: Path, tmp_path: Path
) -> None:
    say("anna", "join diff rear-a 'rear A'")
    elsewhere = tmp_path / "of-bo.db"
    assert bevelbook("--db", elsewhere, "new", "--from", db).code == 0
    assert say("anna", "take-back").code == 0
    assert say("cy", "history").out.count("added join diff rear-a and rear A") == 1
    met = bevelbook("--db", elsewhere, "--by", "bo", "merge", db)
    assert "Removed: join diff rear-a and rear A." in met.out


def test_what_is_refused_is_said_and_nothing_is_changed(say: Say) -> None:
    for words, code in (
        ("join diff rear-a rear-a", "join_with_itself"),
        ("join diff rear-a REAR-A", "join_with_itself"),
        ("join build rear-a/1 'rear A/1'", "not_joined_kind"),
        ("join diff rear-a bo", "unknown_diff"),
        ("join diff rear-a", "missing_input"),
        ("join dif rear-a 'rear A'", "unknown_record"),
        ("record join kind=diff one=x other=y", "join_by_command"),
    ):
        refused = say("anna", f"{words} --json")
        assert refused.code == 2, words
        assert refused.json["code"] == code, words
    near = say("anna", "join diff rear-a rear-b")
    assert "Did you mean" in near.err
    assert say("anna", "join --json").json["joined"] == []
    say("anna", "join diff rear-a 'rear A'")
    again = say("bo", "join diff rear-a 'rear A'")
    assert "are one already, called rear-a: joined by anna on" in again.err
    turned = say("bo", "join diff 'rear A' rear-a")
    assert "called rear A" in turned.out
    assert shelf(say) == ["rear A"]


def test_names_that_look_alike_are_offered_until_somebody_says_so_or_not(say: Say) -> None:
    def found() -> list[dict[str, Any]]:
        every = say("anna", "check --json").json
        findings = [*every["team"], *(one for group in every["diffs"] for one in group["findings"])]
        return [one for one in findings if one["code"] == "look_alike_names"]

    people, one = sorted(found(), key=lambda one: one["words"])
    assert people["words"] == "bo and Bo B. look alike: they may be one person"
    assert say("anna", "join person bo 'Bo B.' --not").code == 0
    assert one["words"] == "rear-a and rear A look alike: they may be one diff"
    assert one["remedy"].startswith("'bevelbook join diff rear-a \"rear A\"' joins them")
    listed = " ".join(say("anna", "join").out.split())
    assert re.search(r"are they one diff\? 'bevelbook --db \S+ --by anna join diff rear-a \"rear A\"'", listed)
    assert "are two diffs" in say("anna", "join diff rear-a 'rear A' --not --note 'two housings'").out
    assert found() == []
    assert "not rear A: said by anna on" in say("anna", "join").out
    assert say("anna", "record join 'rear-a and rear A' --remove mistyped").code == 0
    assert len(found()) == 1


def test_a_name_of_several_records_that_are_one_thing_stands_for_all_of_them(say: Say, db: Path) -> None:
    """As where two laptops that meet both had written a diff of that name."""
    kind = BY_NAME["diff"]
    with closing(open_for_writing(db)) as connection, transaction(connection, db, by="cy"):
        for label in ("rear A", "rear A", "rear-a"):
            Writer(connection, "cy").insert(kind, {"label": label})
    tried = say("anna", "join diff rear-a 'rear A' --dry-run")
    assert tried.code == 0, tried.err
    assert say("anna", "join diff rear-a 'rear A'").out.startswith("rear-a and rear A are one diff now, called rear-a")
    assert sorted(shelf(say)) == ["rear-a"]
    assert say("anna", "join diff rear-a 'rear A'").code == 2, "joined already"
    itself = say("anna", "join diff rear-a rear-a")
    assert "such as rear-a of anna and rear-a of cy" in " ".join(itself.err.split())
    turned = say("anna", "join diff 'rear A' rear-a")
    assert "called rear A" in turned.out, "each record of the other name gives way"
    assert sorted(shelf(say)) == ["rear A"]
    assert say("anna", "join diff rear-a 'rear A' --not").code == 0
    assert sorted(shelf(say)) == ["rear A", "rear-a"]
    assert say("anna", "join diff 'rear-a of anna' 'rear-a of cy' --not").code == 0
    assert sorted(shelf(say)) == ["rear A", "rear-a", "rear-a"]
    asked = say("anna", "join diff rear-a 'rear A'")
    words = " ".join(asked.err.split())
    assert "Name one: rear-a of anna" in words
    assert 'record diff "rear-a of anna" label=NAME\' gives that one a name of its own.' in words
    found = say("anna", "check --json").out
    assert "2 diffs are called rear-a: lists do not tell them apart" in found
    assert say("anna", "record diff 'rear-a of cy' label=rear-c").code == 0
    assert "are called rear-a" not in say("anna", "check --json").out
    assert sorted(shelf(say)) == ["rear A", "rear-a", "rear-c"]


def test_names_with_a_word_more_are_asked_about_wherever_names_are(say: Say) -> None:
    say("anna", "record fluid 'label=house 7k'")
    typed = say("anna", "record fluid label=7k")
    assert "looks like" in typed.out + typed.err
    listed = say("anna", "join --json").json["look_alike"]
    assert [one["command"] for one in listed if one["record"] == "fluid"] == [
        'bevelbook join fluid "house 7k" 7k',
    ]
    assert [one["command"] for one in listed if one["record"] == "person"] == ['bevelbook join person bo "Bo B."']
    command = listed[0]["command"].removeprefix("bevelbook ")
    assert say("anna", command).code == 0, "what is printed is what a shell takes"


def test_a_finding_that_was_put_by_of_one_rests_with_the_one_that_stands_for_it(say: Say, db: Path) -> None:
    say("anna", "join diff rear-a 'rear A'")
    with closing(open_for_writing(db)) as connection:
        ids = dict(connection.execute("SELECT label, id FROM diffs").fetchall())
        put_by = {"subject_table": "diffs", "subject_id": ids["rear A"], "code": "seal_uses", "words": "worn"}
        with transaction(connection, db, by="bo"):
            Writer(connection, "bo").insert(BY_NAME["put_by"], {**put_by, "reason": "new ones ordered"})
        finding = Finding(
            code="seal_uses",
            severity="caution",
            words="worn",
            remedy="",
            subject_table="diffs",
            subject_id=ids["rear-a"],
            subject_label="rear-a",
        )
        rest = PutByFindings(connection).of(finding)
    assert rest is not None
    assert rest.reason == "new ones ordered"


def test_two_that_are_two_are_not_made_one_by_way_of_a_third(say: Say) -> None:
    say("anna", "record person name=cy")
    say("anna", "join person bo cy --not")
    say("anna", "join person bo 'Bo B.'")
    refused = say("anna", "join person cy 'Bo B.'")
    assert refused.code == 2
    assert "cannot be one" in refused.err
    listed = say("anna", "join --json").json
    assert [one["other"] for one in listed["joined"]] == ["Bo B."]
    kept = say("anna", "join person bo 'Bo B.' --not")
    assert kept.code == 0
    assert say("anna", "join --json").json["joined"] == []


def test_a_second_of_a_name_is_found_by_id_and_asked_for(say: Say) -> None:
    assert say("anna", "record person name=BO").code == 2
    assert say("anna", "record person name=BO --another").code == 0
    asked = say("anna", "record build rear-a/1 builder=Bo")
    assert "2 people have that name" in asked.err
    assert "of anna" in asked.err
    joined = say("anna", "record join 'person bo and BO'")
    assert "Nothing to change in join person bo and BO" in joined.out


def test_builds_of_one_name_are_asked_for_by_who_wrote_them(say: Say) -> None:
    say("bo", "record build label=rear-a/1 diff=rear-a built_on=2026-05-20 --another")
    asked = say("cy", "card rear-a/1")
    assert asked.code == 2
    assert "2 builds have that name" in asked.err
    assert "rear-a/1 of anna (2026-05-01) or rear-a/1 of bo (2026-05-20)" in " ".join(asked.err.split())
    assert say("cy", "card 'rear-a/1 of bo'").code == 0
    assert "rear-a/1 of bo" in say("cy", "history").out
    weighed = say("cy", "record weighing 'build=rear-a/1 of bo' mass=20.1g mass_basis=closed --yes")
    assert "weighing rear-a/1 of bo#1" in weighed.out
    again = say("cy", "record weighing rear-a/1#1 note=again")
    assert again.code == 0
    assert "rear-a/2" in say("cy", "record build diff=rear-a built_on=2026-05-21").out


def test_a_record_that_is_one_with_another_is_offered_nowhere_and_named_with_it(say: Say, db: Path) -> None:
    say("anna", "join diff rear-a 'rear A'")
    say("anna", "join person bo 'Bo B.'")
    assert "also written bo's rear A: joined by anna on" in say("bo", "history 'diff' 'rear A'").out
    with closing(open_for_reading(db)) as connection:
        assert labels_of(connection, BY_NAME["diff"]) == ["rear-a"]
        assert people_of(connection) == ["bo"]
        build = BY_NAME["build"]
        assert likely_records(connection, build, build.field("diff")) == ["rear-a"]
        assert {one.name for one in search_records(connection, "rear A", 9) if one.kind.name == "diff"} <= {"rear-a"}
        assert find_id(connection, BY_NAME["person"], " bo b. ") == find_id(connection, BY_NAME["person"], "bo")
    assert "rear A" not in {one["diff"] for one in say("bo", "check --json").json["diffs"]}
    done = say("Bo B.", "record weighing build=rear-a mass=20.1g mass_basis=closed --yes")
    assert "person: bo" in done.out, "who writes is found by either name"


def test_of_two_names_the_one_without_a_mark_of_doubt_stays(bevelbook: Run, db: Path) -> None:
    bevelbook("--db", db, "new")
    for name in ("7k?", "7k"):
        bevelbook("--db", db, "record", "fluid", f"label={name}", "--another")
    (one,) = bevelbook("--db", db, "join", "--json").json["look_alike"]
    assert one["command"] == 'bevelbook join fluid 7k "7k?"'
