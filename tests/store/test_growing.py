"""A schema that grows: a field, a word and a table more, in databases that hold rows.

The declarations are scratch ones, made from today's; the rows are those of the last release and invented.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from math import inf, nextafter
from pathlib import Path
from shutil import copyfile

import pytest
from released import all_rows, released, rows_of

from bevelbook.declare import fields
from bevelbook.declare.errors import DatabaseError, InputError
from bevelbook.declare.fields import REQUIRED, Field, fields_of, record
from bevelbook.records import BY_NAME, Kind
from bevelbook.store import entries, next_step
from bevelbook.store import migrate as migrations
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import SchemaStep, frozen_steps, migrate, rebuild
from bevelbook.store.next_step import StepOptions, main, next_statements
from bevelbook.store.schema import ALL_KINDS, schema_sql, search_table
from bevelbook.store.structure import structure
from bevelbook.store.writing import Writer

Kinds = tuple[Kind, ...]


@record
class Added:
    trial_gap_mm: float | None = fields.quantity("mm", "Gap at the lid", default=None, minimum=0)
    press: str | None = fields.reference("press", "The press", default=None)
    hung: str = fields.choice(("yes", "no"), "Hung on a wire")


@record
class Press:
    name: str = fields.text("What the team calls the press")
    force_n: float | None = fields.text("Its force", default=None)  # type: ignore[assignment]


ADDED = {field.name: field for field in fields_of(Added)}
PRESS = Kind("press", "presses", "Presses", "What seals are pressed in with", Press, "name", searched=("name",))


def changed(name: str, *given: Field, kinds: Kinds = ALL_KINDS) -> Kinds:
    """The declarations with other fields of one kind."""
    cls = type(BY_NAME[name].cls.__name__, (), {"fields": given})
    return tuple(kind._replace(cls=cls) if kind.name == name else kind for kind in kinds)


def with_field(name: str, field: Field, kinds: Kinds = ALL_KINDS) -> Kinds:
    """The declarations with a field more, declared last."""
    return changed(name, *BY_NAME[name].fields, field, kinds=kinds)


def with_words(name: str, column: str, words: tuple[str, ...]) -> Kinds:
    """The declarations with other words of a choice."""
    return changed(name, *(one._replace(choices=words) if one.name == column else one for one in BY_NAME[name].fields))


def grown(connection: sqlite3.Connection, kinds: Kinds, said: StepOptions | None = None) -> list[str]:
    """Write the step to these declarations and run it; the statements of that step."""
    statements = next_statements(kinds, said=said)
    number = len(frozen_steps()) + 1
    migrate(connection, steps=(*frozen_steps(), SchemaStep(number, "a test", tuple(statements))), kinds=kinds)
    return statements


def as_declared(connection: sqlite3.Connection, kinds: Kinds) -> bool:
    """Whether a database has just the tables that the declarations say."""
    with closing(sqlite3.connect(":memory:")) as declared:
        for statement in schema_sql(kinds):
            declared.execute(statement)
        return structure(connection) == structure(declared)


@pytest.fixture(scope="module")
def left(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """What ``filled`` copies: made once, and not opened again."""
    folder = tmp_path_factory.mktemp("left")
    old, brought = released(folder / "old.db"), released(folder / "brought.db")
    with closing(sqlite3.connect(brought, isolation_level=None)) as connection:
        connection.row_factory = sqlite3.Row
        migrate(connection)
    return {"from the release": old, "from this version": brought}


@pytest.fixture(params=["from the release", "from this version"])
def filled(request: pytest.FixtureRequest, left: dict[str, Path], tmp_path: Path) -> Iterator[sqlite3.Connection]:
    """A database that holds rows of every kind, as the last release left it, or brought to this version since."""
    connection = sqlite3.connect(copyfile(left[request.param], tmp_path / "team.db"), isolation_level=None)
    connection.row_factory = sqlite3.Row
    connection.execute("PRAGMA foreign_keys = ON")
    yield connection
    connection.close()


def nothing_is_lost(connection: sqlite3.Connection, before: dict[tuple[str, object], dict[str, object]]) -> None:
    after = rows_of(connection)
    for key, row in before.items():
        if key[0] != "calculations":
            kept = {name: value for name, value in row.items() if (key[0], name) != ("runs", "event")}
            assert kept.items() <= after[key].items(), key
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    for kind in ALL_KINDS:
        if kind.searched:
            index = search_table(kind)
            connection.execute(f"INSERT INTO {index} ({index}, rank) VALUES ('integrity-check', 1)")


def test_no_step_is_needed_where_nothing_new_was_declared() -> None:
    assert next_statements() == []


def test_an_optional_field_declared_last_is_a_column_added_last(filled: sqlite3.Connection) -> None:
    before = rows_of(filled)
    kinds = with_field("build", ADDED["trial_gap_mm"])
    statements = grown(filled, kinds)
    added, *index = statements
    bounds = '"trial_gap_mm" >= 0 AND "trial_gap_mm" <= 1000000000000'
    assert added == f'ALTER TABLE builds ADD COLUMN "trial_gap_mm" REAL CHECK ({bounds})'
    assert [one.split(" ON ")[0] for one in index] == ["DROP INDEX builds_impossible", "CREATE INDEX builds_impossible"]
    assert '"trial_gap_mm" NOT BETWEEN 1e-12 AND' in index[1]
    assert as_declared(filled, kinds)
    nothing_is_lost(filled, before)


def test_an_optional_field_between_others_makes_the_table_again(filled: sqlite3.Connection) -> None:
    before = rows_of(filled)
    first, *others = BY_NAME["build"].fields
    kinds = changed("build", first, ADDED["trial_gap_mm"], *others)
    assert any(one.startswith("CREATE TABLE builds_new") for one in grown(filled, kinds))
    assert as_declared(filled, kinds)
    nothing_is_lost(filled, before)


def test_a_required_field_gets_a_value_in_the_rows_that_are_there(filled: sqlite3.Connection) -> None:
    before = rows_of(filled)
    kinds = with_field("weighing", ADDED["hung"])
    with pytest.raises(InputError, match="rows that are there have none"):
        next_statements(kinds)
    grown(filled, kinds, StepOptions(for_old_rows={("weighings", "hung"): "iif(note IS NULL, 'no', 'yes')"}))
    assert as_declared(filled, kinds)
    nothing_is_lost(filled, before)
    assert {(row[0] is None, row[1]) for row in filled.execute("SELECT note, hung FROM weighings")} == {
        (True, "no"),
        (False, "yes"),
    }


NO_EXPRESSION = r"hung=.*: that is not one SQL expression"
OF_OLD_ROWS = {
    "nothing": ("", NO_EXPRESSION),
    "a space": (" ", NO_EXPRESSION),
    "two statements": ("'no'; DROP TABLE weighings", NO_EXPRESSION),
    "a comment": ("'no' --", NO_EXPRESSION),
    "a bracket shut too early": ("'no'), ('yes'", NO_EXPRESSION),
    "a statement of its own": ("'no') FROM weighings UNION SELECT ('no'", NO_EXPRESSION),
    "two values": ("'no', 7", "row value misused"),
    "no SQL": ("iif(", NO_EXPRESSION),
    "half a text": ("'no", "unrecognized token"),
    "no column": ("zz", "no such column: zz"),
    "a value for all": ("max(note)", "one value for all rows together"),
    "nothing known": ("NULL", r"the column does not take NULL\. Give what fits it \(NOT NULL"),
    "a number": ("-1", r"the column does not take -1\. Give what fits it \(.*CHECK"),
    "a word that is none": ("'x'", "the column does not take 'x'"),
    "a column that may be empty": ("iif(note = 'x', 'no', NULL)", "NULL in a row with only the required columns"),
    "a line that ends in a semicolon": ("iif(note = ';\n', 'no', 'yes')", "a line may not end in ';'"),
}


@pytest.mark.parametrize(("expression", "message"), OF_OLD_ROWS.values(), ids=OF_OLD_ROWS)
def test_what_old_rows_cannot_be_given_is_refused_before_the_step_is_written(expression: str, message: str) -> None:
    kinds = with_field("weighing", ADDED["hung"])
    with pytest.raises(InputError, match=message):
        next_statements(kinds, said=StepOptions(for_old_rows={("weighings", "hung"): expression}))


@pytest.mark.parametrize(
    "expression",
    ["iif(mass_g > 5, 'no', 'yes')", "(SELECT 'no' FROM builds WHERE builds.id = build)", "char(110, 111)"],
)
def test_what_old_rows_can_be_given_is_taken(expression: str) -> None:
    kinds = with_field("weighing", ADDED["hung"])
    said = StepOptions(for_old_rows={("weighings", "hung"): expression})
    assert any(expression in one for one in next_statements(kinds, said=said))


def test_a_renamed_column_that_is_still_searched_by_its_old_name_is_named() -> None:
    renamed = [one._replace(name="felt") if one.name == "note" else one for one in BY_NAME["run"].fields]
    with pytest.raises(InputError, match="searched of the run names 'note', and runs has no such"):
        next_statements(changed("run", *renamed), said=StepOptions(renamed={("runs", "note"): "felt"}))


def test_a_last_step_that_cannot_run_is_named(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    bad = SchemaStep(len(frozen_steps()) + 1, "a test", ("CREATE TABLE good (x)", "CREATE TABLE bad ("))
    steps = (*frozen_steps(), bad)
    monkeypatch.setattr(next_step, "frozen_steps", lambda: steps)
    assert main([]) == 2
    assert re.search(rf"step {bad.number} cannot run: incomplete input.*CREATE TABLE bad", capsys.readouterr().err)


def test_a_step_without_its_file_is_named(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(migrations, "LAST_STEP", len(frozen_steps()) + 1)
    assert main([]) == 2
    assert "a step cannot be read" in capsys.readouterr().err


def test_an_optional_field_that_becomes_required_gets_a_value_where_there_is_none(filled: sqlite3.Connection) -> None:
    fields = [one._replace(default=REQUIRED) if one.name == "note" else one for one in BY_NAME["weighing"].fields]
    kinds = changed("weighing", *fields)
    with pytest.raises(InputError, match=r"weighings\.note is required now, and rows that are there may have none"):
        next_statements(kinds)
    for (name,) in filled.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        filled.execute(f"DROP TRIGGER {name}")
    filled.execute("UPDATE weighings SET note = iif(rowid % 2, NULL, 'wiped ' || id)")
    before = {row[0]: row[1] for row in filled.execute("SELECT id, note FROM weighings")}
    assert None in before.values()
    grown(filled, kinds, StepOptions(for_old_rows={("weighings", "note"): "'nothing seen'"}))
    assert as_declared(filled, kinds)
    after = {row[0]: row[1] for row in filled.execute("SELECT id, note FROM weighings")}
    assert after == {row_id: note or "nothing seen" for row_id, note in before.items()}


TABLES, COLUMNS = r"Did you mean weighings", r"Did you mean (mass_basis|note)"
MISSPELT = {
    "a table without near ones": (["--for-old-rows", "x.y=1"], r"there is no 'x'\. There are .*builds"),
    "a table": (["--for-old-rows", "weighing.mass_g=1"], TABLES),
    "a column": (["--for-old-rows", "weighings.mass_bases=1"], COLUMNS),
    "a column that has values": (["--for-old-rows", "weighings.note=1"], "have it already"),
    "a column that is required": (["--for-old-rows", "weighings.mass_g=1"], "have it already"),
    "a table renamed in": (["--rename", "weighing.note=remark"], TABLES),
    "an old name": (["--rename", "weighings.notes=remark"], COLUMNS),
    "a new name": (["--rename", "weighings.note=mass_bases"], COLUMNS),
    "a name that stays": (["--rename", "weighings.note=mass_basis"], "still declared"),
    "a table with words": (["--word", "weighing.mass_basis.closed=x"], TABLES),
    "a column with words": (["--word", "weighings.mass_bases.closed=x"], COLUMNS),
    "a word": (["--word", "weighings.mass_basis.close=x"], "Did you mean closed"),
    "what it becomes": (["--word", "weighings.mass_basis.closed=close"], "Did you mean closed"),
    "a word that stays": (["--word", "weighings.mass_basis.closed=open half"], "closed: that word is still declared"),
    "old rows twice": (["--for-old-rows", "weighings.x=1", "--for-old-rows", "weighings.x=2"], "x is given twice"),
    "a word twice": (["--word", "runs.grip.x=low", "--word", "runs.grip.x=high"], "x is given twice"),
    "a name twice": (["--rename", "runs.note=a", "--rename", "runs.note=b"], "note is given twice"),
    "a word of a column without": (["--word", "weighings.note.dry=wet"], "There are none"),
}


@pytest.mark.parametrize(("words", "message"), MISSPELT.values(), ids=MISSPELT)
def test_what_is_said_of_nothing_is_refused_with_what_is_near(
    capsys: pytest.CaptureFixture[str], words: list[str], message: str
) -> None:
    assert main(words) == 2
    said = capsys.readouterr()
    assert re.search(message, said.err), said.err
    assert said.out == ""


@pytest.mark.parametrize(
    ("filled", "bound"),
    [
        ("from the release", 0.1234567891),
        *(("from this version", bound) for bound in (1234567.25, 0.1234567891, 16777217.0, 1e-7)),
    ],
    indirect=["filled"],
)
def test_a_bound_is_exact(filled: sqlite3.Connection, bound: float) -> None:
    kinds = with_field("build", ADDED["trial_gap_mm"]._replace(minimum=None, maximum=bound))
    grown(filled, kinds)
    filled.execute("UPDATE builds SET trial_gap_mm = ?", (bound,))
    for beyond in (nextafter(bound, inf), bound * 1.0000001):
        with pytest.raises(sqlite3.IntegrityError):
            filled.execute("UPDATE builds SET trial_gap_mm = ?", (beyond,))


def test_a_word_more_is_taken_and_the_rows_stay(filled: sqlite3.Connection) -> None:
    before = rows_of(filled)
    kinds = with_words("seal", "form", (*BY_NAME["seal"].field("form").choices, "square ring"))
    grown(filled, kinds)
    assert as_declared(filled, kinds)
    nothing_is_lost(filled, before)
    filled.execute("UPDATE seals SET form = 'square ring'")
    with pytest.raises(sqlite3.IntegrityError):
        filled.execute("UPDATE seals SET form = 'round ring'")


def test_a_word_is_not_taken_away_but_may_become_another(filled: sqlite3.Connection) -> None:
    kinds = with_words("run", "grip", ("low", "medium", "plenty"))
    with pytest.raises(InputError, match=r"the word 'high' of runs\.grip is gone"):
        next_statements(kinds)
    before = {key: row for key, row in rows_of(filled).items() if key[0] == "runs"}
    grown(filled, kinds, StepOptions(words={("runs", "grip"): {"high": "plenty"}}))
    after = rows_of(filled)
    assert {row["grip"] for row in before.values()} >= {"high", "low"}
    for key, row in before.items():
        assert after[key]["grip"] == {"high": "plenty"}.get(row["grip"], row["grip"])


def test_a_column_is_not_taken_away_but_may_get_another_name(filled: sqlite3.Connection) -> None:
    kept = [one for one in BY_NAME["build"].fields if one.name != "gasket"]
    with pytest.raises(InputError, match=r"builds\.gasket is gone"):
        next_statements(changed("build", *kept))
    with pytest.raises(InputError, match="the table limits is gone"):
        next_statements(tuple(kind for kind in ALL_KINDS if kind.name != "limit"))
    before = {key: row["note"] for key, row in rows_of(filled).items() if key[0] == "runs"}
    renamed = [one._replace(name="felt") if one.name == "note" else one for one in BY_NAME["run"].fields]
    searched = ("changed", "happened", "felt")
    kinds = tuple(kind._replace(searched=searched) if kind.name == "run" else kind for kind in changed("run", *renamed))
    grown(filled, kinds, StepOptions(renamed={("runs", "note"): "felt"}))
    assert {key: row["felt"] for key, row in rows_of(filled).items() if key[0] == "runs"} == before
    assert filled.execute("SELECT count(*) FROM runs_search WHERE felt MATCH 'calm'").fetchone()[0] == 1


def test_a_table_more_is_made_and_the_others_may_point_to_it(filled: sqlite3.Connection) -> None:
    before = rows_of(filled)
    kinds = (*with_field("seal_fitting", ADDED["press"]), PRESS)
    grown(filled, kinds)
    assert as_declared(filled, kinds)
    nothing_is_lost(filled, before)
    filled.execute("INSERT INTO presses (id, name, created_at, updated_at) VALUES ('p', 'the red one', '', '')")
    filled.execute("UPDATE seal_fittings SET press = 'p'")
    assert filled.execute("SELECT count(*) FROM presses_search WHERE presses_search MATCH 'red'").fetchone()[0] == 1
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        filled.execute("UPDATE seal_fittings SET press = 'nobody'")


@pytest.mark.parametrize("filled", ["from this version"], indirect=True)
def test_history_goes_on_with_the_new_field(filled: sqlite3.Connection) -> None:
    kinds = with_field("build", ADDED["trial_gap_mm"])
    grown(filled, kinds)
    past = filled.execute("SELECT count(*) FROM history").fetchone()[0]
    assert past
    kind = next(kind for kind in kinds if kind.name == "build")
    (build,) = filled.execute("SELECT id, version FROM builds WHERE label = 'rear-a/2' LIMIT 1")
    filled.execute("BEGIN IMMEDIATE")
    for gap in (0.05, 0.1):
        entry = entries.begin(filled)
        Writer(filled, "ana").update(kind, build["id"], {"trial_gap_mm": gap})
        entries.end(filled, entry, keep=True)
    filled.execute("COMMIT")
    found = filled.execute("SELECT content FROM history ORDER BY id LIMIT -1 OFFSET ?", (past,)).fetchall()
    assert [json.loads(row["content"])["trial_gap_mm"] for row in found] == [None, 0.05]


def test_a_row_that_no_longer_fits_is_reported_and_nothing_changes(filled: sqlite3.Connection, tmp_path: Path) -> None:
    """A bound of a field moved past values that are there; the same in a rebuild alone."""
    lighter = [one._replace(maximum=9.0) if one.name == "dry_mass_g" else one for one in BY_NAME["build"].fields]
    kinds = changed("build", *lighter)
    before = all_rows(tmp_path / "team.db")
    with pytest.raises(DatabaseError, match=f"of builds does not fit what step {LAST_STEP + 1} makes of its table"):
        grown(filled, kinds)
    assert all_rows(tmp_path / "team.db") == before


def test_one_table_is_rebuilt_with_its_rows_and_all_that_hangs_on_them(tmp_path: Path) -> None:
    with closing(sqlite3.connect(released(tmp_path / "team.db"), isolation_level=None)) as connection:
        migrate(connection)
        before = rows_of(connection)
        first, *others = BY_NAME["diff"].fields
        kinds = changed("diff", first, ADDED["hung"], *others)
        kind = next(kind for kind in kinds if kind.name == "diff")
        rebuild(connection, kind, for_old_rows={"hung": "'no'"}, kinds=kinds)
        assert as_declared(connection, kinds)
        nothing_is_lost(connection, before)
        with pytest.raises(DatabaseError, match="of diffs does not fit the new diffs"):
            rebuild(connection, kind, for_old_rows={"hung": "NULL"}, kinds=kinds)
        with pytest.raises(DatabaseError, match="hung would be lost"):
            rebuild(connection, BY_NAME["diff"])
        assert connection.execute("SELECT DISTINCT hung FROM diffs").fetchall()[0][0] == "no"
        assert connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1


def test_the_tool_says_what_is_needed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    assert "no step is needed" in capsys.readouterr().out
    assert main(["--word", "seals.form"]) == 2
    assert "NAME.NAME.NAME=VALUE" in capsys.readouterr().err


def test_a_search_that_another_program_left_wrong_is_filled_again(tmp_path: Path) -> None:
    with closing(sqlite3.connect(released(tmp_path / "team.db"), isolation_level=None)) as connection:
        migrate(connection)
        connection.execute("DROP TRIGGER builds_search_changed")
        connection.execute("UPDATE builds SET note = 'unheard' WHERE label = 'rear-a/1'")
        grown(connection, with_field("build", ADDED["trial_gap_mm"]))
        nothing_is_lost(connection, {})
        query = "SELECT count(*) FROM builds_search WHERE builds_search MATCH 'unheard'"
        assert connection.execute(query).fetchone()[0] == 1
