"""Any table or view alone: the same values in CSV, NDJSON and Parquet, as DuckDB and pandas read them.

DuckDB, pandas and pyarrow are libraries of others, so what they read is checked against what SQLite holds. All data are
invented.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from io import BytesIO
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from browser_team import make_team
from conftest import Outcome

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.interchange import one_table
from bevelbook.interchange.listings import listings
from bevelbook.interchange.one_table import OneTable, table_called, tables_to_write
from bevelbook.interchange.table_files import FORMS, write_table
from bevelbook.interchange.written_aside import written_aside
from bevelbook.manual.other_programs import DUCKDB_QUERY
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, FACTS, KINDS
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Outcome]
NOTE = 'Größe "kühl",\nzweite Zeile; 日本, \u2028 and a tab\t.'
FORMULA = "=1+1"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with records of every kind and a few texts that are hard to write."""
    made = make_team(tmp_path_factory.mktemp("one-table") / "team.db").path
    connection = sqlite3.connect(made)
    runs = [row[0] for row in connection.execute("SELECT id FROM runs ORDER BY id")]
    assert len(runs) >= 3
    for run, note in zip(runs, (NOTE, FORMULA, ""), strict=False):
        connection.execute("UPDATE runs SET note = ?, best_lap_s = 0.1 + 0.2 WHERE id = ?", (note, run))
    connection.execute("UPDATE runs SET call = NULL WHERE id = ?", (runs[3],))
    connection.commit()
    connection.close()
    return made


@pytest.fixture
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    connection = open_for_reading(path)
    yield connection
    connection.close()


@pytest.fixture(scope="module")
def folder(path: Path, registry: Registry, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Every table and view in every form, written once."""
    folder = tmp_path_factory.mktemp("files")
    connection = open_for_reading(path)
    for table in tables_to_write(connection, registry).values():
        for form, written in files_of(connection, table).items():
            (folder / f"{table.name}.{form}").write_bytes(written)
    connection.close()
    return folder


def files_of(connection: sqlite3.Connection, table: OneTable) -> dict[str, bytes]:
    files = {form: BytesIO() for form in FORMS}
    write_table(connection, table, files, invented=False)
    return {form: file.getvalue() for form, file in files.items()}


def in_file(path: Path, table: OneTable) -> list[dict[str, Any]]:
    """The rows of a table as SQLite holds them, in no order."""
    connection = sqlite3.connect(path)
    connection.row_factory = sqlite3.Row
    found = [dict(row) for row in connection.execute(f"SELECT * FROM {table.name}")] if table.is_there else []
    connection.close()
    return found


def sorted_rows(rows: list[dict[str, Any]]) -> list[str]:
    return sorted(json.dumps(row, sort_keys=True, default=str) for row in rows)


def test_every_table_and_view_has_all_its_rows_and_columns_in_ndjson(
    path: Path, folder: Path, reading: sqlite3.Connection, registry: Registry
) -> None:
    tables = tables_to_write(reading, registry)
    assert {kind.table for kind in (*KINDS, *FACTS)} < tables.keys()
    assert {"shelf", "what_worked", "build_sheet", "calc_fill_target", "calc_blend_rows"} < tables.keys()
    filled = 0
    for table in tables.values():
        lines = (folder / f"{table.name}.ndjson").read_bytes().decode().split("\n")
        assert lines.pop() == ""
        rows = [json.loads(line) for line in lines]
        assert all(tuple(row) == table.names for row in rows)
        assert sorted_rows(rows) == sorted_rows(in_file(path, table)), table.name
        keys = [tuple(row[name] for name in table.key) for row in rows]
        assert len(set(keys)) == len(keys), f"the key of {table.name} does not tell its rows apart"
        filled += bool(rows)
    assert filled > 20


def test_rows_are_in_the_order_of_the_page_and_then_of_the_key(folder: Path, registry: Registry) -> None:
    for name, day in (("runs", "run_on"), ("weighings", "weighed_on")):
        rows = [json.loads(line) for line in (folder / f"{name}.ndjson").read_text(encoding="utf-8").split("\n")[:-1]]
        days = [row[day] or "" for row in rows]
        assert days == sorted(days, reverse=True)
        assert len(set(days)) < len(days)
        for one, other in pairwise(rows):
            assert one[day] != other[day] or one["id"] < other["id"]


def test_duckdb_reads_every_parquet_file_as_sqlite_holds_it(
    path: Path, folder: Path, reading: sqlite3.Connection, registry: Registry
) -> None:
    import duckdb

    types = {"number": "DOUBLE", "whole": "BIGINT", "date": "DATE", "text": "VARCHAR"}
    with duckdb.connect() as engine:
        for table in tables_to_write(reading, registry).values():
            read = engine.execute("SELECT * FROM read_parquet(?)", [str(folder / f"{table.name}.parquet")])
            described = [(name, str(type_)) for name, type_, *_ in read.description or ()]
            assert [name for name, _ in described] == list(table.names)
            rows = [dict(zip(table.names, row, strict=True)) for row in read.fetchall()]
            assert sorted_rows(rows) == sorted_rows(in_file(path, table)), table.name
            said = engine.execute("DESCRIBE SELECT * FROM read_parquet(?)", [str(folder / f"{table.name}.parquet")])
            assert [row[1] for row in said.fetchall()] == [types[column.type] for column in table.columns]


def test_duckdb_sums_and_counts_as_sqlite_does(path: Path, folder: Path) -> None:
    import duckdb

    asked = "count(*), sum(mass_g), count(mass_g), min(weighed_on), count(DISTINCT build)"
    connection = sqlite3.connect(path)
    count, total, masses, first, builds = connection.execute(f"SELECT {asked} FROM weighings").fetchone()
    connection.close()
    with duckdb.connect() as engine:
        found = engine.execute(f"SELECT {asked} FROM read_parquet('{folder}/weighings.parquet')").fetchall()[0]
    assert found[0] == count > 2
    assert found[1] == pytest.approx(total, rel=1e-15)
    assert (found[2], str(found[3]), found[4]) == (masses, first, builds)


def test_pandas_reads_parquet_and_csv_unchanged(path: Path, folder: Path, registry: Registry) -> None:
    """Whole numbers that may be empty need pandas' own types (``dtype_backend``), else it makes them floats."""
    import pandas as pd

    table = tables_to_write(None, registry)["runs"]
    frame = pd.read_parquet(folder / "runs.parquet", dtype_backend="numpy_nullable")
    dtypes = {"number": "Float64", "whole": "Int64", "text": "string"}
    for column in table.columns:
        if column.type != "date":
            assert str(frame[column.name].dtype).startswith(dtypes[column.type]), column.name
    found = [
        {name: None if pd.isna(value) else value for name, value in row.items()} for row in frame.to_dict("records")
    ]
    assert sorted_rows(found) == sorted_rows(in_file(path, table))
    notes = set(frame["note"].dropna())
    assert {NOTE, FORMULA} <= notes

    by_type = {column.name: dtypes.get(column.type, "string") for column in table.columns}
    read = pd.read_csv(folder / "runs.csv", dtype=by_type, keep_default_na=False, na_values=[""])
    assert list(read["id"]) == list(frame["id"])
    assert read["best_lap_s"].equals(frame["best_lap_s"])
    assert read["laps"].equals(frame["laps"])
    assert {NOTE, f"'{FORMULA}", "'"} <= set(read["note"].dropna())


def test_parquet_says_what_is_declared_of_a_column(folder: Path) -> None:
    import pyarrow.parquet as pq

    schema = pq.read_schema(folder / "builds.parquet")
    said = {key.decode(): value.decode() for key, value in schema.field("dry_mass_g").metadata.items()}
    field = BY_NAME["build"].field("dry_mass_g")
    assert said["unit"] == said["ucum"] == "g"
    assert (said["title"], said["description"]) == ("Dry mass", field.about)
    assert schema.field("screw_torque_nm").metadata[b"ucum"] == b"N.m", "UCUM 2.1, 7: a product is a dot"
    assert schema.field("diff").metadata[b"references"] == b"diffs"
    assert json.loads(schema.field("mass_basis").metadata[b"choices"]) == list(
        BY_NAME["build"].field("mass_basis").choices
    )
    assert schema.metadata[b"table"] == b"builds"
    assert schema.metadata[b"invented"] == b"false"


def test_every_unit_of_a_column_has_its_code(registry: Registry) -> None:
    columns = [column for table in tables_to_write(None, registry).values() for column in table.columns]
    units = {column.unit for column in columns if column.unit is not None}
    assert {"g", "cSt", "°C", "runs", "s", "1"} <= units
    assert all(column.ucum for column in columns if column.unit is not None)
    assert all(column.unit for column in columns if column.type == "number"), "a quantity without a unit"


def test_blocks_of_rows_make_no_difference(
    path: Path, folder: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows are read and written a block at a time, so that memory does not grow with the table."""
    import pyarrow.parquet as pq

    monkeypatch.setattr(one_table, "BLOCK_ROWS", 2)
    connection = open_for_reading(path)
    files = files_of(connection, tables_to_write(connection, registry)["weighings"])
    connection.close()
    for form in ("csv", "ndjson"):
        assert files[form] == (folder / f"weighings.{form}").read_bytes()
    parts = pq.ParquetFile(BytesIO(files["parquet"]))
    assert parts.num_row_groups > 1
    assert parts.read().equals(pq.read_table(folder / "weighings.parquet"))


def test_a_number_that_is_infinite_is_empty_in_every_form(path: Path, registry: Registry, tmp_path: Path) -> None:
    """RFC 8259, section 6: JSON has no infinity. Here a fact holds one, written past the rules of the table."""
    copy = tmp_path / "copy.db"
    copy.write_bytes(path.read_bytes())
    connection = sqlite3.connect(copy)
    connection.execute("PRAGMA ignore_check_constraints = ON")
    connection.execute("UPDATE build_facts SET loss_g = 9e999, oil_in_g = -9e999")
    connection.commit()
    connection.close()
    reading = open_for_reading(copy)
    files = files_of(reading, tables_to_write(reading, registry)["build_facts"])
    reading.close()
    rows = [json.loads(line) for line in files["ndjson"].decode().splitlines()]
    assert rows
    assert {(row["loss_g"], row["oil_in_g"]) for row in rows} == {(None, None)}
    assert "inf" not in files["csv"].decode().lower()


def test_impossible_numbers_are_left_out_as_on_the_pages(path: Path, registry: Registry, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    copy.write_bytes(path.read_bytes())
    connection = sqlite3.connect(copy)
    connection.execute("PRAGMA ignore_check_constraints = ON")
    connection.execute("UPDATE builds SET dry_mass_g = 1e300 WHERE id = (SELECT min(id) FROM builds)")
    connection.commit()
    connection.close()
    reading = open_for_reading(copy)
    files = files_of(reading, tables_to_write(reading, registry)["builds"])
    reading.close()
    assert "e+300" not in files["csv"].decode()
    assert "e+300" not in files["ndjson"].decode()


def test_a_day_that_is_none_is_named_where_it_cannot_be_written(path: Path, registry: Registry, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    copy.write_bytes(path.read_bytes())
    connection = sqlite3.connect(copy)
    connection.execute("PRAGMA ignore_check_constraints = 1")
    connection.execute("UPDATE runs SET run_on = 'soon' WHERE id = (SELECT min(id) FROM runs)")
    connection.commit()
    connection.close()
    reading = open_for_reading(copy)
    table = tables_to_write(reading, registry)["runs"]
    with pytest.raises(InputError) as refused:
        write_table(reading, table, {"parquet": BytesIO()}, invented=False)
    assert (refused.value.code, refused.value.place.column) == ("not_of_its_type", "run_on")
    write_table(reading, table, {"csv": BytesIO(), "ndjson": BytesIO()}, invented=False)
    reading.close()


def test_a_name_is_put_beside_each_reference(reading: sqlite3.Connection, registry: Registry) -> None:
    tables = tables_to_write(reading, registry)
    for table in tables.values():
        if table.kind is not None:
            names = table.with_names().names
            assert len(set(names)) == len(names)
    table = tables["run_diffs"].with_names()
    at = table.names.index("build")
    assert table.names[at + 1] == "build_label"
    labels = dict(reading.execute("SELECT id, label FROM builds").fetchall())
    rows = [row for block in table.rows(reading) for row in block]
    assert rows
    assert all(row[at + 1] == labels[row[at]] for row in rows)
    with pytest.raises(InputError, match="shelf is not one"):
        tables["shelf"].with_names()


def test_what_other_commands_list_is_a_table(bevelbook: Run, path: Path, registry: Registry) -> None:
    """Each row against the JSON of the command that lists it."""

    def rows(name: str) -> list[dict[str, Any]]:
        done = bevelbook("--db", path, "export", "--table", name, "--ndjson", "-")
        assert done.code == 0, done.err
        return [json.loads(line) for line in done.out.splitlines()]

    checked = bevelbook("--db", path, "check", "--json").json
    said = {one["name"]: one for group in checked["diffs"] for one in group["findings"]}
    said |= {one["name"]: one for one in checked["team"]}
    found = {row["name"]: row for row in rows("findings")}
    assert said.keys() <= found.keys()
    assert len(said) > 2
    for name, one in said.items():
        assert {part: found[name][part] for part in ("code", "severity", "words", "remedy")} == {
            part: one[part] for part in ("code", "severity", "words", "remedy")
        }
    (entry,) = bevelbook("--db", path, "history", "--json").json["entries"]
    (row,) = rows("entries_in_words")
    assert (row["number"], row["id"], row["came_of_it"]) == (
        entry["number"],
        entry["id"],
        "; ".join(entry["came_of_it"]),
    )
    listed = bevelbook("--db", path, "calls", "--list", "--json").json["runs"]
    assert [(row["run"], row["day"], row["remark"]) for row in rows("runs_without_call")] == [
        (one["run"], one["day"], one["remark"]) for one in listed
    ]
    for listing in listings(registry):
        connection = open_for_reading(path)
        files = files_of(connection, listing)
        connection.close()
        assert all(files.values()), "in every form"


def test_a_table_is_found_by_its_name_or_by_the_kind_of_record(registry: Registry) -> None:
    tables = tables_to_write(None, registry)
    assert table_called(tables, "Run-Diffs").name == table_called(tables, "run_diff").name == "run_diffs"
    with pytest.raises(UnknownNameError, match="Did you mean build_sheet or "):
        table_called(tables, "build_shet")


PLUGIN = """
from bevelbook import Calculator, Judgement, Source, Worked, hookimpl, quantity, record

ARITHMETIC = Source("computed", "two times three is six")


@record
class Given:
    mass_g: float = quantity("g", "A mass", minimum=0)


@record
class Found:
    double_g: float = quantity("g", "Twice that mass")


DOUBLING = Calculator(
    name="doubling",
    title="Doubling",
    question="What is twice that mass?",
    purpose="twice a mass",
    version=1,
    given=Given,
    found=Found,
    compute=lambda given: Found(double_g=2 * given.mass_g),
    judge=lambda given, found: Judgement("ok", ("twice",)),
    working=lambda given, found: (),
    valid=("any mass",),
    sources=(ARITHMETIC,),
    worked=(Worked({"mass_g": "3 g"}, {"double_g": 6.0}, 0.0, ARITHMETIC),),
    answer="double_g",
)


@hookimpl
def bevelbook_calculators():
    return (DOUBLING,)
"""


def test_results_of_a_plugin_are_written_with_and_without_it(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own/doubling.py").write_text(PLUGIN, encoding="utf-8")
    with_plugin = ("--db", db, "--plugins", "own")
    empty = bevelbook(*with_plugin, "export", "--table", "calc_doubling", "--csv", "-")
    assert empty.out.splitlines()[1:] == []
    assert "No result of that calculator was kept yet" in empty.err
    assert bevelbook(*with_plugin, "calc", "doubling", "--mass", "3 g", "--keep").code == 0
    known = bevelbook(*with_plugin, "export", "--table", "calc_doubling", "--ndjson", "-")
    unknown = bevelbook("--db", db, "export", "--table", "calc_doubling", "--ndjson", "-")
    assert json.loads(known.out)["double_g"] == 6.0
    assert known.out == unknown.out
    assert "calc_doubling" in bevelbook("--db", db, "export", "--list").out


def test_the_command_says_what_was_written_and_leaves_a_file_alone(bevelbook: Run, path: Path, tmp_path: Path) -> None:
    to = ("--db", path, "export", "--table", "shelf")
    done = bevelbook(*to, "--csv", "shelf.csv", "--parquet", "shelf.parquet")
    assert done.code == 0, done.err
    assert re.search(r"^Wrote shelf\.csv: \d+ rows?, 28 columns, [\d.]+ kB\.$", done.out, re.MULTILINE)
    before = (tmp_path / "shelf.csv").read_bytes()
    (tmp_path / "shelf.csv").write_text("mine", encoding="utf-8")
    refused = bevelbook(*to, "--csv", "shelf.csv")
    assert refused.code == 2
    assert "already exists" in refused.err
    assert "export --table shelf --csv shelf.csv --replace" in refused.err
    assert (tmp_path / "shelf.csv").read_text(encoding="utf-8") == "mine"
    said = bevelbook(*to, "--csv", "shelf.csv", "--replace", "--json").json
    assert (said["table"], said["files"]["csv"]["bytes"]) == ("shelf", len(before))
    assert (tmp_path / "shelf.csv").read_bytes() == before
    assert sorted(one.name for one in tmp_path.iterdir() if "shelf" in one.name) == ["shelf.csv", "shelf.parquet"]


def test_a_table_goes_to_standard_output_and_what_is_said_to_standard_error(bevelbook: Run, path: Path) -> None:
    done = bevelbook("--db", path, "export", "--table", "diffs", "--csv", "-", "--ndjson", "diffs.ndjson")
    assert done.out.startswith("id,version,parents,")
    assert "Wrote diffs.ndjson" in done.err
    assert bevelbook("--db", path, "export", "--table", "diffs", "--csv", "-", "--ndjson", "-").code == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--table", "rnus", "--csv", "-"), "Did you mean runs?"),
        (("--table", "runs"), "in which form?"),
        (("--table", "runs", "--csv", "none/x.csv"), "the file cannot be written"),
        (("--table", "runs", "--csv", "."), "this is a folder"),
        (("--table", "runs", "--csv", "-", "--json"), "Standard output is the table or the JSON"),
        (("--table", "shelf", "--names", "--csv", "-"), "shelf is not one"),
        (("season", "--table", "runs", "--csv", "-"), "not both"),
        (("--csv", "-"), "--csv goes with --table"),
        ((), "Name a folder, or a table"),
    ],
    ids=lambda one: " ".join(one) if isinstance(one, tuple) else "",
)
def test_what_cannot_be_done_is_said(bevelbook: Run, path: Path, words: tuple[str, ...], said: str) -> None:
    refused = bevelbook("--db", path, "export", *words)
    assert refused.code == 2
    assert said in refused.err
    assert refused.out == ""


def test_without_the_library_it_says_what_to_install(
    bevelbook: Run, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    refused = bevelbook("--db", path, "export", "--table", "runs", "--parquet", "runs.parquet")
    assert refused.code == 2
    assert "pip install 'bevelbook[parquet]'" in refused.err
    assert not list(tmp_path.glob("runs*"))


def test_a_fault_in_the_middle_leaves_the_file_that_was_there(
    path: Path, registry: Registry, tmp_path: Path, bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "runs.csv").write_text("before", encoding="utf-8")

    def cut(self: OneTable, connection: sqlite3.Connection) -> Iterator[list[tuple[object, ...]]]:
        yield [("x",) * len(self.columns)]
        raise sqlite3.DatabaseError("database disk image is malformed")

    monkeypatch.setattr(OneTable, "rows", cut)
    done = bevelbook("--db", path, "export", "--table", "runs", "--csv", "runs.csv", "--replace")
    assert done.code == 2
    assert "the file is damaged" in done.err
    assert [one.name for one in tmp_path.iterdir() if "runs" in one.name] == ["runs.csv"]
    assert (tmp_path / "runs.csv").read_text(encoding="utf-8") == "before"


def test_a_reader_that_has_enough_ends_it_quietly_and_well(path: Path) -> None:
    """A process of its own: only a real pipe closes."""
    words = ["--db", str(path), "export", "--table", "runs", "--csv", "-"]
    code = f"from bevelbook.cli import main; main({words!r})"
    process = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert process.stdout is not None and process.stderr is not None
    process.stdout.close()
    said = process.stderr.read()
    process.stderr.close()
    assert (process.wait(), said) == (0, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only some systems have a file that is always full")
def test_an_output_that_is_full_is_said_without_a_traceback(path: Path) -> None:
    code = "import sys; from bevelbook.cli import main; main(sys.argv[1:])"
    words = [sys.executable, "-c", code, "--db", str(path), "export", "--table", "runs", "--csv", "-"]
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(words, stdout=full, stderr=subprocess.PIPE, check=False, text=True)
    assert done.returncode == 2
    assert done.stderr.startswith("bevelbook: what was to be written cannot be written to the end, found ")


def test_the_query_of_the_manual_gathers_the_runs_of_many_teams(
    path: Path, registry: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For DuckDB, as printed. The lines for Spark are not run, since it is not installed: ``mergeSchema``, ``parquet``,
    ``input_file_name``, ``groupBy``, ``agg``, ``countDistinct`` and ``orderBy`` are as in the API reference of PySpark
    3.5 (Apache Software Foundation; read)."""
    import duckdb
    import pyarrow.parquet as pq

    connection = open_for_reading(path)
    table = tables_to_write(connection, registry)["runs"].with_names()
    (count, days, best_lap_s) = connection.execute(
        "SELECT count(*), count(DISTINCT run_on), min(best_lap_s) FROM runs"
    ).fetchone()
    for team in ("ana", "bo"):
        (tmp_path / team).mkdir()
        with (tmp_path / team / "runs.parquet").open("wb") as file:
            write_table(connection, table, {"parquet": file}, invented=False)
    connection.close()
    older = pq.read_table(tmp_path / "bo/runs.parquet").drop_columns(["surface_state"])
    pq.write_table(older, tmp_path / "bo/runs.parquet")
    monkeypatch.chdir(tmp_path)
    with duckdb.connect() as engine:
        found = engine.execute(DUCKDB_QUERY).fetchall()
    assert found == [(str(Path(team, "runs.parquet")), count, days, best_lap_s) for team in ("ana", "bo")]


def test_what_is_no_file_is_not_replaced(tmp_path: Path) -> None:
    """A pipe stands for a device: one that is replaced by a file breaks every program that uses it."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(InputError, match="device or a pipe"), written_aside(pipe, replace=True):
        pass
    assert pipe.is_fifo()
