"""``bevelbook merge``: what a team mate sent, in words, and clashes settled. All data are constructed."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from asked import asked
from clashing import copy_of
from conftest import Begin, Outcome, empty_database

from bevelbook.records import BY_NAME
from bevelbook.store.invented_mark import INVENTED_WORDS, mark_invented
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Outcome]


@pytest.fixture
def say(bevelbook: Run) -> Callable[..., Outcome]:
    """Run a command on a database as somebody."""
    return lambda path, by, *words: bevelbook("--db", path, "--by", by, *words)


@pytest.fixture
def bo(bevelbook: Run, begin: Begin, db: Path) -> Path:
    """Bo's laptop: begun as a copy of ana's, then both went on apart."""
    of_ana, other = ("--db", db, "--by", "ana", "record"), db.with_name("bo.db")
    begin(
        bevelbook,
        db,
        (*of_ana, "diff", "label=rear-a"),
        (*of_ana, "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g", "oil_mass=1.86g"),
    )
    copy_of(db, "bo")
    of_bo = ("--db", other, "--by", "bo", "record")
    begin(
        bevelbook,
        other,
        (*of_bo, "build", "rear-a/1", "dry_mass=46.31g"),
        (*of_bo, "run", "run_on=2026-05-03", "rear=rear-a", "note=felt planted"),
        (*of_bo, "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=46.30g", "oil_mass=1.80g"),
    )
    begin(
        bevelbook,
        db,
        (*of_ana, "build", "rear-a/1", "dry_mass=46.13g"),
        (*of_ana, "build", "diff=rear-a", "built_on=2026-05-10", "dry_mass=46.25g", "oil_mass=1.82g"),
    )
    return other


def masses(path: Path) -> list[float]:
    return [row[0] for row in asked(path, "SELECT dry_mass_g FROM builds WHERE built_on = '2026-05-03'")]


def in_one_line(text: str) -> str:
    return " ".join(text.split())


def test_a_dry_run_says_what_would_come_and_writes_nothing(
    say: Callable[..., Outcome], db: Path, bo: Path, tmp_path: Path
) -> None:
    before, names = db.read_bytes(), sorted(tmp_path.iterdir())
    tried = say(db, "ana", "merge", bo, "--dry-run")
    assert tried.code == 1, tried.err
    assert tried.out.startswith("From bo.db, as it would be:\n  bo: 1 build, 1 run\n")
    assert "Changed by it:" not in tried.out, "the clash shows ana's, as before"
    assert "1 clash: dry mass of build rear-a/1." in tried.out
    assert "2 builds are called rear-a/2: rear-a/2 of ana and rear-a/2 of bo." in in_one_line(tried.out)
    assert tried.out.endswith("Nothing was changed.\n")
    assert db.read_bytes() == before
    assert sorted(tmp_path.iterdir()) == names


def test_a_merge_brings_in_all_says_so_and_keeps_a_copy_of_before(
    say: Callable[..., Outcome], db: Path, bo: Path
) -> None:
    theirs = bo.read_bytes()
    done = say(db, "ana", "merge", bo)
    assert done.code == 1, done.err
    assert "  bo: 1 build, 1 run\n" in done.out
    assert re.search(
        r"clash: build rear-a/1: dry mass\n    1  46\.13 g, ana, .* \(shown\)\n    2  46\.31 g, bo", done.out
    )
    copy = db.with_name("team.before-merge.db")
    assert "kept as team.before-merge.db" in in_one_line(done.out)
    assert asked(copy, "SELECT count(*) FROM runs") == [(0,)]
    assert asked(db, "SELECT count(*) FROM runs") == [(1,)]
    assert bo.read_bytes() == theirs
    again = say(db, "ana", "merge", bo)
    assert (again.code, again.out) == (0, "From bo.db:\n  All of it was here already.\n")
    assert sorted(path.name for path in db.parent.glob("team.*")) == ["team.before-merge.db", "team.db"]


def test_in_whatever_way_round_both_show_the_same(say: Callable[..., Outcome], db: Path, bo: Path) -> None:
    ana = copy_of(db, "ana")
    assert say(db, "ana", "merge", bo, "--json").json["clashes"][0]["name"] == "build rear-a/1"
    say(bo, "bo", "merge", ana)
    of_both = "SELECT id, version, dry_mass_g FROM builds ORDER BY id"
    assert asked(db, of_both) == asked(bo, of_both)
    assert masses(db) == [46.13]


@pytest.mark.parametrize(
    ("which", "mass"), [("2", 46.31), ("46.31g", 46.31), ("dry_mass=46.31", 46.31), ("46.31 g", 46.31), ("1", 46.13)]
)
def test_a_clash_is_settled_by_number_value_or_field(
    say: Callable[..., Outcome], db: Path, bo: Path, which: str, mass: float
) -> None:
    say(db, "ana", "merge", bo)
    seen = re.search(r"--seen ([0-9a-f]{4})", say(db, "ana", "check").out)
    assert seen is not None
    done = say(db, "ana", "merge", "--settle", "build rear-a/1", which, "--seen", seen[1])
    assert done.code == 0, done.err
    assert done.out.startswith(f"Settled build rear-a/1: dry mass {mass:.2f} g (")
    assert masses(db) == [mass]
    assert say(db, "ana", "check", "--json").json["clashes"] == []


def test_settling_goes_along_with_the_next_merge(say: Callable[..., Outcome], db: Path, bo: Path) -> None:
    say(db, "ana", "merge", bo)
    assert say(db, "ana", "merge", "--settle", "rear-a/1", "46.31").code == 0
    met = say(bo, "bo", "merge", db)
    assert met.code == 0, met.out
    assert "clash" not in met.out
    assert masses(bo) == [46.31]


def test_what_names_no_version_or_another_clash_is_refused(say: Callable[..., Outcome], db: Path, bo: Path) -> None:
    say(db, "ana", "merge", bo)
    before = db.read_bytes()

    def refused(*words: str) -> str:
        done = say(db, "ana", "merge", *words)
        assert done.code == 2, done.out
        return in_one_line(done.err)

    assert 'no version of this clash says that, found "46.2". Choose by the number: 1 46.13 g, ana' in refused(
        "--settle", "build rear-a/1", "46.2"
    )
    assert "there is no version 3 of this clash. There are 1 and 2: 1 46.13 g, ana" in refused(
        "--settle", "build rear-a/1", "3"
    )
    assert "the others changed nothing beside version 2" in refused("--settle", "build rear-a/1", "2+others")
    assert "both cannot hold" in refused("--settle", "build rear-a/1", "both")
    assert "has changed since it was looked at" in refused("--settle", "build rear-a/1", "2", "--seen", "0000")
    assert "In clash: build rear-a/1." in refused("--settle", "build rear-a/9", "2")
    assert "a clash is settled by itself" in refused(str(bo), "--settle", "build rear-a/1", "2")
    assert "no database was named" in refused()
    assert "your own database" in refused(str(db))
    assert db.read_bytes() == before


def test_what_each_changed_in_another_field_may_both_hold(say: Callable[..., Outcome], db: Path) -> None:
    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g")
    other = copy_of(db, "bo")
    say(other, "bo", "record", "build", "rear-a/1", "note=notchy")
    say(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.13g")
    say(db, "ana", "merge", other)
    done = say(db, "ana", "merge", "--settle", "build rear-a/1", "both")
    assert done.out.startswith("Settled build rear-a/1: dry mass 46.13 g (ana) and note notchy (bo).")
    assert asked(db, "SELECT dry_mass_g, note FROM builds") == [(46.13, "notchy")]


@pytest.fixture
def three(say: Callable[..., Outcome], db: Path) -> Path:
    """Ana's database with a clash of three: ana and cy wrote another dry mass; what is shown then, cy's, bo took
    with a note, and ana with a feel."""
    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g")
    cy = copy_of(db, "cy")
    say(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.13g")
    say(cy, "cy", "record", "build", "rear-a/1", "dry_mass=46.31g")
    say(db, "ana", "merge", cy)
    bo = copy_of(db, "bo")
    say(bo, "bo", "record", "build", "rear-a/1", "note=notchy")
    say(db, "ana", "record", "build", "rear-a/1", "hand_feel=smooth")
    say(db, "ana", "merge", bo)
    return db


@pytest.mark.parametrize(("mass", "typed"), [("46.13", "{}+others"), ("46.31", "{} and others")])
def test_of_three_one_holds_with_what_the_others_added(
    say: Callable[..., Outcome], three: Path, mass: str, typed: str
) -> None:
    (clash,) = say(three, "ana", "check", "--json").json["clashes"]
    assert "both cannot hold" in say(three, "ana", "merge", "--settle", clash["name"], "both").err
    assert sorted(one["words"] for one in clash["versions"]) == [
        "dry mass 46.13 g; as before hand feel empty, note empty",
        "dry mass 46.31 g (cy); hand feel smooth; as before note empty",
        "dry mass 46.31 g (cy); note notchy; as before hand feel empty",
    ]
    assert sorted(one["words"] for one in clash["with_others"]) == [
        "dry mass 46.13 g (ana), with hand feel smooth (ana) and note notchy (bo)",
        "dry mass 46.31 g (cy), with note notchy (bo)",
    ]
    (number,) = (one["number"] for one in clash["with_others"] if mass in one["words"])
    done = say(three, "ana", "merge", "--settle", clash["name"], typed.format(number))
    assert done.code == 0, done.err
    assert asked(three, "SELECT dry_mass_g, hand_feel, note FROM builds") == [(float(mass), "smooth", "notchy")]
    assert say(three, "ana", "check", "--json").json["clashes"] == []


def test_what_three_changed_in_other_fields_all_hold(say: Callable[..., Outcome], db: Path) -> None:
    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g")
    bo, cy = copy_of(db, "bo"), copy_of(db, "cy")
    say(bo, "bo", "record", "build", "rear-a/1", "note=notchy")
    say(cy, "cy", "record", "build", "rear-a/1", "hand_feel=smooth")
    say(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.13g")
    say(db, "ana", "merge", bo)
    say(db, "ana", "merge", cy)
    done = say(db, "ana", "merge", "--settle", "build rear-a/1", "both")
    assert "dry mass 46.13 g (ana), hand feel smooth (cy) and note notchy (bo)" in in_one_line(done.out), done.err
    assert asked(db, "SELECT dry_mass_g, hand_feel, note FROM builds") == [(46.13, "smooth", "notchy")]


def test_who_corrected_what_another_had_changed_is_not_in_its_way(say: Callable[..., Outcome], db: Path) -> None:
    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g")
    cy = copy_of(db, "cy")
    say(db, "ana", "record", "build", "rear-a/1", "note=notchy")
    say(cy, "cy", "record", "build", "rear-a/1", "dry_mass=46.31g")
    bo = copy_of(cy, "bo")
    say(bo, "bo", "record", "build", "rear-a/1", "dry_mass=46.30g")
    say(cy, "cy", "record", "build", "rear-a/1", "hand_feel=smooth")
    say(db, "ana", "merge", bo)
    say(db, "ana", "merge", cy)
    done = say(db, "ana", "merge", "--settle", "build rear-a/1", "both")
    assert done.code == 0, done.err
    assert asked(db, "SELECT dry_mass_g, hand_feel, note FROM builds") == [(46.3, "smooth", "notchy")]


def test_a_number_that_may_be_a_value_is_asked_about(say: Callable[..., Outcome], db: Path) -> None:
    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g")
    say(db, "ana", "record", "run", "run_on=2026-05-03", "rear=rear-a", "laps=3")
    other = copy_of(db, "bo")
    say(other, "bo", "record", "run", "2026-05-03/1", "laps=1")
    say(db, "ana", "record", "run", "2026-05-03/1", "laps=2")
    say(db, "ana", "merge", other)
    unclear = say(db, "ana", "merge", "--settle", "run 2026-05-03/1", "2")
    assert unclear.code == 2
    assert "2 may be the number of a version or its value" in unclear.err
    done = say(db, "ana", "merge", "--settle", "run 2026-05-03/1", "laps=1")
    assert done.code == 0, done.err
    assert asked(db, "SELECT laps FROM runs") == [(1,)]


def test_what_one_removed_and_the_other_changed_is_kept_until_somebody_says(
    say: Callable[..., Outcome], db: Path
) -> None:
    say(db, "ana", "record", "venue", "name=Tannery Hall")
    other = copy_of(db, "bo")
    say(other, "bo", "record", "venue", "Tannery Hall", "--remove", "written twice")
    say(db, "ana", "record", "venue", "Tannery Hall", "surface=carpet")
    done = say(db, "ana", "merge", other)
    assert "clash: venue Tannery Hall: changed by ana, removed by bo\n    1  kept, surface carpet, ana, " in done.out
    assert re.search(r"\n    2  removed, bo, ", done.out)
    settled = say(db, "ana", "merge", "--settle", "venue Tannery Hall", "removed")
    assert settled.code == 0, settled.err
    assert asked(db, "SELECT count(*) FROM venues") == [(0,)]
    assert say(other, "bo", "merge", db).code == 0
    assert asked(other, "SELECT count(*) FROM venues") == [(0,)]


def test_an_empty_database_takes_all_and_gives_nothing(
    say: Callable[..., Outcome], db: Path, bo: Path, tmp_path: Path
) -> None:
    empty = empty_database(tmp_path / "empty.db")
    assert in_one_line(say(db, "ana", "merge", empty).out) == "From empty.db: All of it was here already."
    taken = say(empty, "cy", "merge", bo)
    assert (taken.code, taken.out.splitlines()[1:3]) == (0, ["  ana: 1 diff", "  bo: 2 builds, 1 run"])


def test_history_shows_where_a_record_went_two_ways_and_where_that_was_settled(
    say: Callable[..., Outcome], db: Path, bo: Path
) -> None:
    say(db, "ana", "merge", bo)
    numbers = {row[1]: row[0] for row in asked(db, "SELECT rowid, asked FROM entries")}
    anas = numbers["record build rear-a/1 dry_mass=46.13g"]
    bos = numbers["record build rear-a/1 dry_mass=46.31g"]
    said = in_one_line(say(db, "ana", "history", "build", "rear-a/1").out)
    assert said.startswith("clash: build rear-a/1: dry mass 1 46.13 g, ana")
    assert f"ana: dry mass 46.13 g, was 46.20 g (apart from entry {bos} of bo)" in said
    assert f"bo: dry mass 46.31 g, was 46.20 g (apart from entry {anas} of ana)" in said
    say(db, "ana", "merge", "--settle", "build rear-a/1", "2")
    settled = in_one_line(say(db, "ana", "history", "build", "rear-a/1").out)
    assert "clash" not in settled
    assert "ana: settled: dry mass 46.31 g" in settled
    assert "settled build rear-a/1: dry mass 46.31 g" in in_one_line(say(db, "ana", "history").out)
    say(bo, "bo", "merge", db)
    assert "ana: settled: dry mass 46.31 g" in in_one_line(say(bo, "bo", "history", "build", "rear-a/1").out)


def test_a_build_that_is_kept_gets_back_what_was_removed_with_it(say: Callable[..., Outcome], db: Path) -> None:
    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g")
    say(db, "ana", "record", "build-shim", "build=rear-a/1", "place=behind case-side gear", "thickness=0.2mm")
    shims = asked(db, "SELECT place, thickness_mm FROM build_shims")
    assert len(shims) == 1
    other = copy_of(db, "bo")
    say(other, "bo", "record", "build", "rear-a/1", "--remove", "not ours")
    say(db, "ana", "record", "build", "rear-a/1", "note=notchy")
    met = say(db, "ana", "merge", other)
    assert "build rear-a/1: changed by ana, removed by bo" in met.out
    assert asked(db, "SELECT place, thickness_mm FROM build_shims") == []
    kept = say(db, "ana", "merge", "--settle", "build rear-a/1", "kept")
    assert "with it came back 1 build shim." in in_one_line(kept.out), kept.err
    assert asked(db, "SELECT place, thickness_mm FROM build_shims") == shims
    assert say(other, "bo", "merge", db).code == 0
    assert asked(other, "SELECT place, thickness_mm FROM build_shims") == shims
    assert asked(other, "SELECT note FROM builds") == [("notchy",)]


def test_what_is_invented_comes_in_only_if_asked_for(
    say: Callable[..., Outcome], db: Path, bo: Path, tmp_path: Path
) -> None:
    invented = empty_database(tmp_path / "invented.db")
    with closing(open_for_writing(invented)) as connection, transaction(connection, invented, by="ana"):
        mark_invented(connection)
        Writer(connection, "ana").insert(BY_NAME["venue"], {"name": "Tannery Hall"})
    before = db.read_bytes()
    refused = say(db, "ana", "merge", invented)
    assert refused.code == 2
    assert "everything in it is invented" in refused.err
    assert "give --invented" in refused.err
    assert db.read_bytes() == before
    assert not list(tmp_path.glob("*before-merge*"))
    taken = say(db, "ana", "merge", invented, "--invented")
    assert taken.code == 0, taken.err
    assert taken.out.rstrip().endswith(INVENTED_WORDS)


def test_names_that_look_alike_are_asked_about(say: Callable[..., Outcome], db: Path) -> None:
    other = copy_of(db, "bo")
    say(other, "bo", "record", "diff", "label=rear-A")
    say(db, "ana", "record", "diff", "label=rear_a")
    said = in_one_line(say(db, "ana", "merge", other).out)
    asked = "rear-A and rear_a look alike: are they one diff?"
    assert re.search(rf" {re.escape(asked)} 'bevelbook .*?join diff rear-A rear_a' joins them", said), "as written"
    assert "look alike" not in say(db, "ana", "merge", other).out


def test_a_settling_that_is_taken_back_is_a_clash_again(
    bevelbook: Run, say: Callable[..., Outcome], db: Path, bo: Path
) -> None:
    say(db, "ana", "merge", bo)
    for which in ("2", "1"):
        settled = say(db, "ana", "merge", "--settle", "build rear-a/1", which)
        assert settled.code == 0
        way_back = re.search(r"To have the clash back: bevelbook (.*)", settled.out)
        assert way_back, settled.out
        assert bevelbook("--db", db, "record", "diff", f"label=rear-z{which}").code == 0
        back = bevelbook(*shlex.split(way_back[1]))
        assert back.code == 0, back.err
        assert "build rear-a/1" in back.out
        again = say(db, "ana", "check").out
        assert re.search(r"46\.13 g, ana, .*\n.*46\.31 g, bo|46\.31 g, bo, .*\n.*46\.13 g, ana", again), again
    assert say(bo, "bo", "merge", db).code == 1, "the clash goes along"


def test_what_both_corrected_alike_is_no_clash_and_stays_none(say: Callable[..., Outcome], db: Path) -> None:
    say(db, "ana", "record", "diff", "label=rear-a")
    say(db, "ana", "record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=46.20g")
    other = copy_of(db, "bo")
    for path, by in ((db, "ana"), (other, "bo")):
        say(path, by, "record", "build", "rear-a/1", "dry_mass=46.13g")
    assert say(db, "ana", "merge", other).code == 0
    say(db, "ana", "record", "build", "rear-a/1", "dry_mass=46.10g")
    assert say(db, "ana", "merge", other).code == 0
    assert say(other, "bo", "merge", db).code == 0
    assert masses(db) == masses(other) == [46.10]


def test_what_was_removed_and_is_needed_elsewhere_is_back_as_a_clash(say: Callable[..., Outcome], db: Path) -> None:
    say(db, "ana", "record", "venue", "name=Tannery Hall")
    other = copy_of(db, "bo")
    say(other, "bo", "record", "venue", "Tannery Hall", "--remove", "closed down")
    say(db, "ana", "record", "idea", "text=8k", "venue=Tannery Hall")
    met = in_one_line(say(db, "ana", "merge", other).out)
    assert "1 clash: venue Tannery Hall: removed by bo, but idea 8k needs it. " in met
    assert " 1 kept, ana, " in met
    refused = say(db, "ana", "merge", "--settle", "venue Tannery Hall", "removed")
    assert (refused.code, "is used by idea 8k" in refused.err) == (2, True)
    assert say(db, "ana", "merge", "--settle", "venue Tannery Hall", "kept").code == 0
    assert say(db, "ana", "check", "--json").json["clashes"] == []
    assert asked(db, "SELECT name FROM venues") == [("Tannery Hall",)]
