"""Databases of released versions, brought to this one: nothing is lost, whenever the process ends."""

from __future__ import annotations

import json
import random
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from released import DUMPS, all_rows, brought_here, released, rows_of

from bevelbook.declare.errors import DatabaseError
from bevelbook.facts.renew import FACTS_VERSION
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.calculation_views import view_names
from bevelbook.store.last_step import LAST_STEP, STEPS
from bevelbook.store.migrate import SchemaStep, frozen_steps, migrate, read_step, step_text
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.schema import columns_of, search_table
from bevelbook.store.structure import structure
from bevelbook.store.writing import Writer

OWN = [kind for kind in KINDS if kind.own]
WORDS = {"not told": "unclear", "not told apart": "cannot tell"}
KILLS = 12
"""More by hand, and at every step: ``python tests/trials/try_kills.py upgrade``."""
KILLED = 8


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return released(tmp_path / "old.db")


@pytest.fixture
def upgraded(old: Path) -> Iterator[sqlite3.Connection]:
    connection = open_for_writing(brought_here(old))
    yield connection
    connection.close()


def whole_and_new(path: Path, before: dict[tuple[str, object], dict[str, Any]]) -> None:
    """Every row is there with its rowid, in the new schema."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == LAST_STEP
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        after = rows_of(connection)
        facts = loss_and_viscosity(connection)
    events = {row["name"]: row["id"] for (table, _), row in after.items() if table == "events"}
    for (table, rowid), row in before.items():
        if (table, rowid) not in after and is_a_fact_now(table, row, facts):
            continue
        found = after[table, rowid]
        for name, value in row.items():
            is_event = (table, name) == ("runs", "event") and value is not None
            wanted = events[value] if is_event else renamed(table, name, value)
            assert wanted == found[name], (table, rowid, name)


def loss_and_viscosity(connection: sqlite3.Connection) -> dict[str, float]:
    """What a build lost, and how thick the oil was in a run, by the id of each."""
    return dict(
        connection.execute(
            "SELECT build, loss_g FROM build_facts WHERE loss_g IS NOT NULL UNION ALL SELECT run_diff, "
            "viscosity_at_diff_temperature_cst FROM run_diff_facts WHERE viscosity_at_diff_temperature_cst IS NOT NULL"
        )
    )


def is_a_fact_now(table: str, row: dict[str, Any], facts: dict[str, float]) -> bool:
    """A result that was kept of itself, with nothing typed, and that the facts agree with."""
    if table != "calculations" or row["calculator"] not in ("leak-trend", "viscosity"):
        return False
    output = "loss_g" if row["calculator"] == "leak-trend" else "viscosity_at_temperature_cst"
    is_equal = json.loads(row["found"])[output] == pytest.approx(facts[row["subject_id"]], rel=1e-6, abs=1e-6)
    return is_equal and "given" not in json.loads(row["origins"]).values()


def renamed(table: str, name: str, value: Any) -> Any:
    if table != "calculations" or not isinstance(value, str):
        return value
    if name == "verdict":
        return WORDS.get(value, value)
    if name in ("given", "found", "rows", "reasons"):
        return json.dumps(words_renamed(json.loads(value)), ensure_ascii=False, separators=(",", ":"))
    return value


def words_renamed(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: words_renamed(one) for key, one in value.items()}
    if isinstance(value, list):
        return [words_renamed(one) for one in value]
    return WORDS.get(value, value) if isinstance(value, str) else value


def test_the_steps_make_just_what_the_declarations_say(tmp_path: Path) -> None:
    with closing(new_database(tmp_path / "fresh.db")) as fresh, closing(sqlite3.connect(":memory:")) as stepped:
        stepped.isolation_level = None
        migrate(stepped)
        assert structure(stepped) == structure(fresh)
        assert triggers_and_views(stepped) == triggers_and_views(fresh)
        assert stepped.execute("SELECT * FROM writing").fetchall() == [(1, None, None, None)]
        assert stepped.execute("SELECT count(*) FROM entries").fetchone()[0] == 0
        names = "SELECT name FROM _sqlite_migrations ORDER BY id"
        assert [row[0] for row in stepped.execute(names)] == [row[0] for row in fresh.execute(names)]


def triggers_and_views(connection: sqlite3.Connection) -> set[tuple[str, ...]]:
    connection.row_factory = None
    return set(
        connection.execute("SELECT type, name, sql FROM sqlite_master WHERE type IN ('trigger', 'view')").fetchall()
    )


def test_every_step_says_why_it_is_there() -> None:
    assert [path.name for path in sorted(STEPS.iterdir())] == [f"{step.number:04d}.sql" for step in frozen_steps()]
    assert all(step.statements and step.why for step in frozen_steps())


def test_a_step_is_read_as_it_was_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bevelbook.store.migrate.STEPS", tmp_path)
    step = SchemaStep(1, "a lid's gap", ("ALTER TABLE builds ADD COLUMN gap REAL", "CREATE INDEX i ON builds (gap)"))
    (tmp_path / "0001.sql").write_text(step_text(step), encoding="utf-8")
    assert read_step(1) == step
    (tmp_path / "0001.sql").write_text("CREATE TABLE x (y);\n", encoding="utf-8")
    with pytest.raises(ValueError, match="why it is there"):
        read_step(1)


def test_the_steps_need_no_function_of_ours() -> None:
    """On a plain connection; a step is text that never changes."""
    with closing(sqlite3.connect(":memory:")) as connection:
        for step in frozen_steps():
            for statement in step.statements:
                connection.execute(statement)


@pytest.mark.parametrize("dump", DUMPS, ids=lambda path: path.stem)
def test_a_database_of_each_released_schema_upgrades_with_every_row(dump: Path, tmp_path: Path) -> None:
    path = released(tmp_path / "old.db", dump)
    before = all_rows(path)
    with closing(open_for_writing(path)) as connection, closing(new_database(tmp_path / "fresh.db")) as fresh:
        assert structure(connection) == structure(fresh)
        assert connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1
    whole_and_new(path, before)


def test_the_last_release_has_rows_of_every_kind_that_could_be_lost(old: Path) -> None:
    tables = {table for table, _ in all_rows(old)}
    later = {
        "entries",
        "car_diffs",
        "car_values",
        "findings_put_by",
        "scale_readings",
        "job_times",
        "bench_jobs",
        "bench_steps",
        "photos",
        "pictures",
        "joins",
        "clashes",
        "erasures",
        "note_diffs",
        "events",
        "event_cars",
        "stock_parts",
        "stock_changes",
        "kit_parts",
        "bottle_checks",
        "plans",
        "plan_lines",
    }
    assert tables >= {kind.table for kind in KINDS} - later | {"note_bytes"}


def test_rows_of_notes_are_first_versions_and_those_by_hand_belong_to_one_entry(upgraded: sqlite3.Connection) -> None:
    ((entry, made_by, asked),) = upgraded.execute("SELECT id, made_by, asked FROM entries")
    assert (made_by, asked) == (None, "kept from before entries")
    kinds = set()
    for kind in OWN:
        if kind.name == "event":
            continue
        for row in upgraded.execute(f"SELECT id, version, parents, note_file FROM {kind.table}"):
            is_changed = row["parents"] is not None
            kinds.add((row["note_file"] is not None, is_changed))
            assert row["version"] == (row["id"] if row["note_file"] and not is_changed else entry)
    assert kinds == {(True, False), (True, True), (False, False), (False, True)}


def test_what_was_changed_before_is_a_chain_of_versions(upgraded: sqlite3.Connection) -> None:
    """North Quay was carpet, then asphalt, then carpet again."""
    (venue,) = upgraded.execute("SELECT id, parents, surface FROM venues WHERE name = 'North Quay'")
    first, second = upgraded.execute(
        "SELECT version, parents, content FROM history WHERE row_id = ? ORDER BY id", (venue["id"],)
    )
    assert first["parents"] is None
    assert json.loads(second["parents"]) == [first["version"]]
    assert json.loads(venue["parents"]) == [second["version"]]
    assert [json.loads(one["content"])["surface"] for one in (first, second)] == ["carpet", "asphalt"]
    assert set(json.loads(first["content"])) == set(columns_of(BY_NAME["venue"])) - {"id", "version", "parents"}


def test_what_was_removed_before_is_a_version_without_content(upgraded: sqlite3.Connection) -> None:
    """One idea was removed for good; another was changed, removed and written again under its id."""
    gone = upgraded.execute(
        "SELECT version, parents, content IS NULL, replaced_at IS NULL FROM history "
        "WHERE table_name = 'ideas' AND row_id NOT IN (SELECT id FROM ideas) ORDER BY id"
    ).fetchall()
    assert [tuple(row)[2:] for row in gone] == [(0, 0), (1, 1)]
    assert json.loads(gone[1]["parents"]) == [gone[0]["version"]]
    (again,) = upgraded.execute("SELECT id, parents, text FROM ideas WHERE text LIKE 'shorter springs%'")
    past = upgraded.execute("SELECT version, content FROM history WHERE row_id = ? ORDER BY id", (again["id"],))
    versions = [(row["version"], row["content"] is None) for row in past]
    assert [is_removal for _, is_removal in versions] == [False, False, True]
    assert json.loads(again["parents"]) == [versions[-1][0]]
    assert len({version for version, _ in versions}) == 3


def test_kept_results_say_unclear_and_cannot_tell(upgraded: sqlite3.Connection) -> None:
    rows = upgraded.execute("SELECT calculator, verdict, found FROM calculations WHERE verdict = 'unclear'").fetchall()
    found = {row["calculator"]: json.loads(row["found"]) for row in rows}
    assert set(found) == {"fluid-ratio"}
    assert found["fluid-ratio"]["thicker"] == "cannot tell"


@pytest.mark.parametrize(
    ("change", "stays"),
    [
        ("SELECT 1", False),
        ("UPDATE calculations SET origins = json_set(origins, '$.oil_mass_g', 'given')", True),
        ("UPDATE calculations SET found = json_set(found, '$.loss_g', 0.5)", True),
    ],
    ids=["as it was kept", "with an input typed", "of other masses"],
)
def test_a_result_that_is_a_fact_now_goes_and_one_of_a_person_stays(old: Path, change: str, stays: bool) -> None:
    with closing(sqlite3.connect(old)) as connection, connection:
        connection.execute(f"{change} WHERE calculator = 'leak-trend'" if stays else change)
    with closing(open_for_writing(old)) as connection:
        count = connection.execute("SELECT count(*) FROM calculations WHERE calculator = 'leak-trend'").fetchone()[0]
        assert bool(count) is stays
        assert connection.execute("SELECT count(*) FROM build_facts WHERE leak IS NOT NULL").fetchone()[0] > 0


def test_a_result_with_an_input_typed_stays_beside_one_that_goes(old: Path) -> None:
    with closing(sqlite3.connect(old)) as connection, connection:
        columns = [row[1] for row in connection.execute("PRAGMA table_info(calculations)")]
        values = [{"id": "'typed'", "origins": "json_set(origins, '$.stop_share', 'given')"}.get(c, c) for c in columns]
        connection.execute(
            f"INSERT INTO calculations ({', '.join(columns)}) SELECT {', '.join(values)} FROM calculations "
            "WHERE calculator = 'leak-trend' LIMIT 1"
        )
    with closing(open_for_writing(old)) as connection:
        left = connection.execute("SELECT id FROM calculations WHERE calculator = 'leak-trend'").fetchall()
        assert [row[0] for row in left] == ["typed"]


def test_words_are_found_after_the_upgrade_under_their_rows(upgraded: sqlite3.Connection) -> None:
    for kind, word in (("build", "putty"), ("run", "calm"), ("bottle", "sticky"), ("diff", "scratch")):
        table = BY_NAME[kind].table
        found = upgraded.execute(
            f"SELECT * FROM {table} WHERE rowid IN (SELECT rowid FROM {table}_search WHERE {table}_search MATCH ?)",
            (word,),
        ).fetchall()
        assert len(found) == 1
        assert word in " ".join(map(str, found[0]))


def test_history_and_search_go_on_after_the_upgrade(upgraded: sqlite3.Connection, old: Path) -> None:
    kind = BY_NAME["venue"]
    (venue,) = upgraded.execute("SELECT id, version FROM venues WHERE name = 'North Quay'")
    with transaction(upgraded, old, asked="record venue", by="bo") as entry:
        Writer(upgraded, "bo").update(kind, venue["id"], {"note": "gritty by noon"})
    after = upgraded.execute("SELECT version, parents FROM venues WHERE id = ?", (venue["id"],)).fetchone()
    assert (after["version"], json.loads(after["parents"])) == (entry.id, [venue["version"]])
    last = upgraded.execute("SELECT * FROM history ORDER BY id DESC LIMIT 1").fetchone()
    assert (last["row_id"], last["version"], last["replaced_in"]) == (venue["id"], venue["version"], entry.id)
    hits = upgraded.execute("SELECT count(*) FROM venues_search WHERE venues_search MATCH 'gritty'").fetchone()[0]
    assert hits == 1


def test_a_copy_is_kept_of_the_database_as_it_was(old: Path) -> None:
    before = all_rows(old)
    open_for_writing(old).close()
    assert all_rows(old.with_name(f"old.before-step-{LAST_STEP}.db")) == before


def test_an_older_database_is_only_read_after_the_upgrade(old: Path) -> None:
    with pytest.raises(DatabaseError, match="new --migrate"):
        open_for_reading(old)
    open_for_writing(old).close()
    open_for_reading(old).close()


def test_views_of_calculators_outlive_the_upgrade(old: Path) -> None:
    """And become those of today, of every kept result and of the latest, whether or not a plugin is there."""
    query = "SELECT name FROM sqlite_master WHERE name LIKE 'calc\\_%' ESCAPE '\\' ORDER BY name"
    with closing(sqlite3.connect(old)) as connection:
        before = {row[0]: _columns(connection, row[0]) for row in connection.execute(query).fetchall()}
        assert before
        kept = connection.execute("SELECT DISTINCT calculator FROM calculations ORDER BY 1").fetchall()
    open_for_writing(old).close()
    with closing(sqlite3.connect(old)) as connection:
        after = {row[0]: _columns(connection, row[0]) for row in connection.execute(query).fetchall()}
        for name, columns in before.items():
            assert columns <= after[name], name
        left = {row[0] for row in connection.execute("SELECT DISTINCT calculator FROM calculations")}
        for name in left & {row[0] for row in kept}:
            every, latest, _, _ = view_names(name)
            assert after[every] == after[latest]
            counted = [connection.execute(f"SELECT count(*) FROM {view}").fetchone()[0] for view in (every, latest)]
            asked = "SELECT count(*) FROM {} WHERE calculator = ?"
            assert counted == [
                connection.execute(asked.format(table), (name,)).fetchone()[0]
                for table in ("calculations", "latest_calculations")
            ]


def _columns(connection: sqlite3.Connection, view: str) -> set[str]:
    return {row[0] for row in connection.execute("SELECT name FROM pragma_table_info(?)", (view,))}


def test_what_another_program_left_broken_does_not_hold_the_upgrade_up(old: Path) -> None:
    """A reference to nothing, and a word that the search does not know."""
    with closing(sqlite3.connect(old)) as connection, connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE builds SET builder = 'nobody' WHERE label = 'rear-a/1'")
        connection.execute("UPDATE builds SET note = 'unheard' WHERE label = 'rear-a/1'")
    with closing(open_for_writing(old)) as connection:
        assert connection.execute("SELECT builder FROM builds WHERE label = 'rear-a/1'").fetchone()[0] == "nobody"
        found = connection.execute("SELECT count(*) FROM builds_search WHERE builds_search MATCH 'unheard'")
        assert found.fetchone()[0] == 1
        for kind in KINDS:
            if kind.searched:
                index = search_table(kind)
                connection.execute(f"INSERT INTO {index} ({index}, rank) VALUES ('integrity-check', 1)")


SCRIPT = """
import os, random, shutil, signal, sqlite3, sys, time
from pathlib import Path
from bevelbook.store import opening

EVERY = 50
connect = sqlite3.connect
opening.explained  # loaded before the clock starts
import sqlite_utils

def upgrade(path, target):
    steps = 0
    def count():
        nonlocal steps
        steps += 1
        if steps == target:
            os.kill(os.getpid(), signal.SIGKILL)
        return 0
    def counted(*given, **more):
        connection = connect(*given, **more)
        connection.set_progress_handler(count, EVERY)
        return connection
    sqlite3.connect = counted
    opening.open_for_writing(Path(path)).close()
    return steps

old, folder, seed, kills = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4])
draw = random.Random(seed)

def child(number, target):
    path = folder / f"{number:02d}" / "team.db"
    path.parent.mkdir()
    shutil.copy(old, path)
    pid = os.fork()
    if pid == 0:
        try:
            upgrade(path, target)
            os._exit(0)
        except BaseException:
            os._exit(1)
    return pid

for name in ("first", "count"):  # the first loads what each process would else load on its way
    path = folder / name / "team.db"
    path.parent.mkdir()
    shutil.copy(old, path)
    started = time.perf_counter()
    steps = upgrade(path, 0)
    seconds = time.perf_counter() - started
for number in range(kills):
    by_step = number % 4 < 3
    pid = child(number, draw.randint(1, steps - steps // 30) if by_step else 0)
    if not by_step:
        time.sleep(seconds * draw.random())
        os.kill(pid, signal.SIGKILL)
    print(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]))
"""


@pytest.mark.long
def test_killed_at_any_moment_it_is_wholly_old_or_wholly_new_and_opens(old: Path, tmp_path: Path) -> None:
    """Three of four processes end after a drawn number of steps inside SQLite, the others at a drawn instant.

    A folder that is left byte for byte as another was (the old file, whose changes went back, and the same files beside
    it) is not opened a second time: what opens the one opens the other.
    """
    before = all_rows(old)
    folder = tmp_path / "killed"
    folder.mkdir()
    seed = random.randrange(1_000_000)
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(old), str(folder), str(seed), str(KILLS)],
        capture_output=True,
        text=True,
        check=False,
    )
    codes = [int(line) for line in done.stdout.split()]
    assert len(codes) == KILLS, done.stderr
    assert codes.count(-signal.SIGKILL) >= KILLED, done.stderr
    assert set(codes) <= {0, -signal.SIGKILL}
    left = {}
    opened: list[dict[str, bytes]] = []
    for number in range(KILLS):
        path = folder / f"{number:02d}" / "team.db"
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok", seed
            left[number] = connection.execute("PRAGMA user_version").fetchone()[0]
            if left[number] < LAST_STEP:
                assert rows_of(connection) == before, seed
        beside = {
            str(one.relative_to(path.parent)): one.read_bytes() for one in path.parent.rglob("*") if one.is_file()
        }
        if beside not in opened:
            open_for_writing(path).close()
            opened.append(beside)
            whole_and_new(path, before)
    assert set(left.values()) <= {2, LAST_STEP}, seed
    assert 2 in left.values(), "none of them was killed on the way"


def test_a_fault_on_the_way_leaves_the_old_database(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = all_rows(old)

    def fail(_connection: sqlite3.Connection, *_given: object) -> None:
        raise RuntimeError

    monkeypatch.setattr("bevelbook.store.migrate._check_searches", fail)
    with pytest.raises(RuntimeError):
        open_for_writing(old)
    assert all_rows(old) == before
    monkeypatch.undo()
    open_for_writing(old).close()
    whole_and_new(old, before)


def test_a_row_that_does_not_fit_is_reported_and_nothing_changes(old: Path) -> None:
    """A kept result with a verdict that no version knows, written past the checks."""
    with closing(sqlite3.connect(old)) as connection, connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("UPDATE calculations SET verdict = 'perhaps' WHERE rowid = 1")
    before = all_rows(old)
    with pytest.raises(DatabaseError, match="does not fit what step 3 makes of its table") as caught:
        open_for_writing(old)
    assert "calculations" in str(caught.value)
    assert all_rows(old) == before


def test_a_step_that_leaves_rows_pointing_at_nothing_is_refused(db: Path) -> None:
    with closing(open_for_writing(db)) as connection, transaction(connection, db):
        writer = Writer(connection, "ana")
        diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
        writer.insert(BY_NAME["build"], {"label": "rear-a/1", "diff": diff, "built_on": "2026-05-03"})
    before = all_rows(db)
    losing = SchemaStep(LAST_STEP + 1, "loses a table", ("DELETE FROM diffs",))
    with (
        closing(sqlite3.connect(db, isolation_level=None)) as connection,
        pytest.raises(DatabaseError, match="1 rows would refer to missing records"),
    ):
        migrate(connection, steps=[*frozen_steps(), losing])
    assert all_rows(db) == before


def test_facts_of_other_definitions_are_worked_out_when_the_database_is_opened(db: Path) -> None:
    with closing(open_for_writing(db)) as connection, transaction(connection, db):
        writer = Writer(connection, "ana")
        diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
        writer.insert(
            BY_NAME["build"], {"label": "rear-a/1", "diff": diff, "built_on": "2026-05-03", "oil_mass_g": 1.86}
        )
    with closing(sqlite3.connect(db)) as other, other:
        other.execute("UPDATE build_facts SET oil_in_g = 99.0")
        other.execute("UPDATE about SET value = 'an older one' WHERE name = 'facts'")
    with closing(open_for_writing(db)) as connection:
        assert connection.execute("SELECT oil_in_g FROM build_facts").fetchone()[0] == 1.86
        assert connection.execute("SELECT value FROM about WHERE name = 'facts'").fetchone()[0] == FACTS_VERSION


def test_two_processes_that_upgrade_at_once_both_find_it_done(old: Path, tmp_path: Path) -> None:
    """The second waits for the first and finds no step left to run."""
    with closing(sqlite3.connect(old, isolation_level=None)) as first:
        migrate(first)
        migrate(first)
        assert first.execute("SELECT count(*) FROM _sqlite_migrations").fetchone()[0] == LAST_STEP


def test_triggers_and_views_follow_the_declarations_whenever_a_database_is_opened(db: Path) -> None:
    with closing(sqlite3.connect(db)) as connection, connection:
        before = triggers_and_views(connection)
        connection.execute("DROP TRIGGER builds_changed")
        connection.execute("DROP VIEW shelf")
        connection.execute("CREATE VIEW shelf AS SELECT 'ready' AS word")
        connection.execute("CREATE TRIGGER lurking AFTER INSERT ON people BEGIN DELETE FROM builds; END")
        connection.execute("CREATE VIEW calc_kept AS SELECT 1 AS one")
    with closing(open_for_writing(db)) as connection:
        after = triggers_and_views(connection)
    kept = {one for one in after if one[1] == "calc_kept"}
    assert len(kept) == 1
    assert after - kept == before


def test_nothing_is_written_where_triggers_and_views_are_right(db: Path) -> None:
    before = db.read_bytes()
    open_for_writing(db).close()
    assert db.read_bytes() == before


Maker = Callable[..., Any]


def test_the_command_that_migrates_says_so(bevelbook: Maker, old: Path) -> None:
    assert "is up to date" in bevelbook("--db", old, "new", "--migrate").out
    assert bevelbook("--db", old, "record", "venue", "North Quay", "note=later").code == 0
