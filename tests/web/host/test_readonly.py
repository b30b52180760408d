"""A served database cannot be written, whatever a plugin tries, and no other file is reached through it."""

from __future__ import annotations

import asyncio
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from browser_team import Site, Team, close, content_of, make_team, site_over

from bevelbook.declare.errors import DatabaseError
from bevelbook.plugin.registry import Registry
from bevelbook.store.closed_file import log_of
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE
from bevelbook.web.host.readonly import TeamDatabase, allowed
from bevelbook.web.host.startup import CannotServe

HOSTILE_PLUGIN = """
import asyncio, sqlite3
from datasette import hookimpl, Response
from datasette.database import Database

INSERT = "INSERT INTO people (id, name, created_at, updated_at) VALUES ('x', 'mallory', '', '')"

def run(*statements):
    def on(connection):
        results = [connection.execute(one).fetchall() for one in statements]
        connection.commit()
        return results
    return on

async def attempts(datasette):
    db = [one for name, one in datasette.databases.items() if not one.is_memory][0]
    spare = db.path + ".stolen"
    stock = datasette.add_database(Database(datasette, path=db.path), name="second")
    return {
        "execute_write": lambda: db.execute_write(INSERT),
        "execute_write_fn": lambda: db.execute_write_fn(run(INSERT)),
        "execute_write_script": lambda: db.execute_write_script(INSERT),
        "execute_write_many": lambda: db.execute_write_many("DELETE FROM builds WHERE id != ?", [["x"]]),
        "connect for writing": lambda: asyncio.to_thread(db.connect, True),
        "insert on a read connection": lambda: db.execute_fn(run(INSERT)),
        "execute an update": lambda: db.execute("UPDATE builds SET note = 'x'"),
        "attach": lambda: db.execute_fn(run(f"ATTACH '{db.path}' AS other", INSERT.replace("people", "other.people"))),
        "attach a new file": lambda: db.execute_fn(run(f"ATTACH '{spare}' AS other", "CREATE TABLE other.t (x)")),
        "detach": lambda: db.execute_fn(run("DETACH main")),
        "database_list": lambda: db.execute_fn(run("PRAGMA database_list")),
        "pragma_database_list": lambda: db.execute("SELECT file FROM pragma_database_list"),
        "writable_schema": lambda: db.execute_fn(run("PRAGMA writable_schema = 1", "UPDATE sqlite_master SET sql = 1")),
        "query_only": lambda: db.execute_fn(run("PRAGMA query_only = 0", INSERT)),
        "journal_mode": lambda: db.execute_fn(run("PRAGMA journal_mode = DELETE")),
        "vacuum into": lambda: db.execute_fn(run(f"VACUUM INTO '{spare}'")),
        "temporary trigger": lambda: db.execute_fn(
            run("CREATE TEMP TRIGGER t AFTER INSERT ON main.people BEGIN SELECT 1; END")
        ),
        "temporary table": lambda: db.execute_fn(run("CREATE TEMP TABLE t (x)")),
        "load_extension": lambda: db.execute("SELECT load_extension('nothing')"),
        "a new Database object": lambda: stock.execute_write(INSERT),
        "a new Database object, schema": lambda: stock.execute_write("DROP TABLE builds"),
        "a new Database object, vacuum": lambda: stock.execute_write_fn(run(f"VACUUM INTO '{spare}'")),
    }

async def hostile(datasette):
    results = {}
    for name, attempt in (await attempts(datasette)).items():
        try:
            results[name] = f"DONE: {await attempt()!r}"
        except Exception as fault:
            results[name] = f"{type(fault).__name__}: {fault}"
    return Response.json(results)

@hookimpl
def register_routes():
    return [(r"^/-/hostile$", hostile)]

@hookimpl
def canned_queries(datasette, database):
    return {"strike": {"sql": INSERT, "write": True}}
"""


@pytest.fixture
def team(tmp_path: Path) -> Team:
    folder = tmp_path / "served"
    folder.mkdir()
    return make_team(folder / "team.db")


@pytest.fixture
def attacked(team: Team, tmp_path: Path) -> Iterator[Site]:
    """A plain Datasette over the team's file, with a plugin that means harm."""
    from datasette.app import Datasette
    from datasette.plugins import pm

    folder = tmp_path / "plugins"
    folder.mkdir()
    (folder / "hostile.py").write_text(HOSTILE_PLUGIN, encoding="utf-8")
    before = set(pm.get_plugins())
    datasette = Datasette([str(team.path)], plugins_dir=str(folder))
    yield Site(datasette)
    for plugin in set(pm.get_plugins()) - before:
        pm.unregister(plugin)
    close(datasette)


def test_every_attempt_of_a_hostile_plugin_fails_and_changes_nothing(
    attacked: Site, team: Team, capsys: pytest.CaptureFixture[str]
) -> None:
    before = content_of(team.path)
    results = attacked.get("/-/hostile").json()
    capsys.readouterr()
    assert len(results) >= 12
    assert not {name: result for name, result in results.items() if result.startswith("DONE")}
    assert content_of(team.path) == before
    beside = {one.name for one in team.path.parent.iterdir()} - {"team.db-wal", "team.db-shm"}
    assert beside == {"team.db"}


def test_a_saved_query_that_writes_is_refused(attacked: Site, team: Team, capsys: pytest.CaptureFixture[str]) -> None:
    before = content_of(team.path)
    form = attacked.get("/team/strike")
    if HAS_SQL_PAGE:
        assert form.status_code == 404, "Datasette 1.0 takes no saved query from a plugin"
        return
    token = attacked.get("/team/strike").cookies.get("ds_csrftoken")
    assert form.status_code == 200

    async def post() -> Any:
        return await attacked.datasette.client.post(
            "/team/strike", data={"csrftoken": token, "_json": "1"}, cookies={"ds_csrftoken": token}
        )

    answer = asyncio.run(post())
    capsys.readouterr()
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET, HEAD")
    assert "read-only" in answer.text
    assert content_of(team.path) == before


@pytest.mark.parametrize(
    "sql",
    [
        "INSERT INTO people (id, name, created_at, updated_at) VALUES ('x', 'y', '', '')",
        "DELETE FROM builds",
        "DROP TABLE builds",
        "with x as (select 1) delete from builds",
        "PRAGMA database_list",
        "select * from pragma_database_list",
        "select load_extension('x')",
        "ATTACH 'x' AS y",
    ],
)
def test_sql_of_a_visitor_can_only_ask(team: Team, registry: Registry, sql: str) -> None:
    before = content_of(team.path)
    with site_over(team.path, registry) as site:
        answer = site.get("/team.json", params={"sql": sql})
    assert answer.status_code == 400
    assert str(team.path.parent) not in answer.text
    assert content_of(team.path) == before


def test_plain_datasette_serves_a_team_database_through_the_plugin(team: Team) -> None:
    from datasette.app import Datasette

    datasette = Datasette([str(team.path)])
    site = Site(datasette)
    try:
        assert "Each filling of a diff" in site.page("/team/builds")
        assert isinstance(datasette.databases["team"], TeamDatabase)
        assert datasette.setting("suggest_facets") is False
    finally:
        close(datasette)


def test_a_file_that_is_not_ours_is_left_alone(tmp_path: Path, team: Team) -> None:
    from datasette.app import Datasette

    other = tmp_path / "other.db"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE builds (id INTEGER PRIMARY KEY, dry_mass_g REAL)")
        connection.execute("INSERT INTO builds VALUES (1, 9.123456)")
    connection.close()
    for files in ([str(other)], [str(other), str(team.path)]):
        datasette = Datasette(files)
        site = Site(datasette)
        try:
            answer = site.get("/other/builds")
            assert answer.status_code == 200
            assert "9.123456" in answer.text
            assert not isinstance(datasette.databases["other"], TeamDatabase)
            assert "content-security-policy" not in answer.headers
            assert "Served by Datasette with" not in answer.text
            assert datasette.setting("suggest_facets") is True
        finally:
            close(datasette)


def test_a_newer_database_stops_datasette_with_one_message(team: Team) -> None:
    from datasette.app import Datasette

    with sqlite3.connect(team.path) as connection:
        connection.execute("PRAGMA user_version = 999")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    datasette = None
    with pytest.raises((CannotServe, DatabaseError), match="newer version"):
        datasette = Datasette([str(team.path)])
        Site(datasette).get("/")
    if datasette is not None:
        close(datasette)


def test_an_older_database_names_the_command_that_migrates(team: Team) -> None:
    from datasette.app import Datasette

    with sqlite3.connect(team.path) as connection:
        connection.execute("PRAGMA user_version = 0")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    datasette = Datasette([str(team.path)])
    try:
        with pytest.raises(CannotServe, match=r"new --migrate"):
            Site(datasette).get("/")
    finally:
        close(datasette)


def test_a_folder_that_cannot_be_written_is_served_immutable_or_with_changes_beside_it_from_a_copy(
    tmp_path: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Real folders cannot be closed to the administrator under whom tests may run, so the question is answered here."""
    monkeypatch.setattr("bevelbook.web.host.readonly.folder_is_writable", lambda path: False)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    (tmp_path / "book").mkdir()
    team = make_team(tmp_path / "book" / "team.db", note="short")
    beside = log_of(team.path)
    with closing(sqlite3.connect(team.path, isolation_level=None)) as holder:
        holder.execute("PRAGMA wal_autocheckpoint = 0")
        holder.execute("UPDATE venues SET name = 'Slipway' WHERE name = 'Brickfield'")
        rows, held = beside.read_bytes(), team.path.read_bytes()
    for log, is_copied in ((None, False), (b"", False), (rows, True)):
        for one in (beside, team.path.with_name("team.db-shm")):
            one.unlink(missing_ok=True)
        team.path.write_bytes(held)
        if log is not None:
            beside.write_bytes(log)
        before = {one.name: one.read_bytes() for one in team.path.parent.iterdir() if one.is_file()}
        with site_over(team.path, registry) as site:
            venues, served = site.page("/team/venues"), site.datasette.databases["team"]
            assert ("Slipway" in venues, "Brickfield" in venues) == (is_copied, not is_copied)
            assert ("a copy of both as of" in venues) is is_copied
            assert ("a copy of both as of" in site.page("/")) is is_copied
            assert served.is_mutable is is_copied
            if is_copied:
                assert Path(served.path).parent.stat().st_mode & 0o777 == 0o700
                sql = urlencode({"sql": "SELECT name FROM venues", "_shape": "arrayfirst"})
                assert "Slipway" in site.get(f"/team{'/-/query' if HAS_SQL_PAGE else ''}.json?{sql}").json()
            assert str(tmp_path) not in venues
        assert {one.name: one.read_bytes() for one in team.path.parent.iterdir() if one.is_file()} == before
        for act in state_of(site.datasette).when_stopping:
            act()
        assert not [*tmp_path.glob("bevelbook-aside-*")]


def test_the_authorizer_lets_ask_and_nothing_else() -> None:
    ok, deny = sqlite3.SQLITE_OK, sqlite3.SQLITE_DENY
    assert allowed(sqlite3.SQLITE_SELECT, None, None) == ok
    assert allowed(sqlite3.SQLITE_PRAGMA, "table_info", "builds") == ok
    assert allowed(sqlite3.SQLITE_PRAGMA, "user_version", None) == ok
    assert allowed(sqlite3.SQLITE_PRAGMA, "user_version", "3") == deny
    assert allowed(sqlite3.SQLITE_PRAGMA, "database_list", None) == deny
    assert allowed(sqlite3.SQLITE_PRAGMA, "recursive_triggers", "on") == ok
    for name in ("journal_mode", "query_only", "foreign_keys", "legacy_alter_table", "writable_schema"):
        assert allowed(sqlite3.SQLITE_PRAGMA, name, "1") == deny
    assert allowed(sqlite3.SQLITE_ATTACH, "x", None) == deny
    assert allowed(sqlite3.SQLITE_INSERT, "builds", None) == deny
    assert allowed(sqlite3.SQLITE_FUNCTION, None, "load_extension") == deny


def test_sqlite_utils_connects_to_a_served_connection_and_reads(team: Team, registry: Registry) -> None:
    """Plugins such as those for GraphQL read through its class, which sets a pragma when it connects."""
    import sqlite_utils

    def read(connection: sqlite3.Connection) -> dict[str, Any]:
        db = sqlite_utils.Database(connection)
        builds = db["builds"]
        with pytest.raises(sqlite3.DatabaseError):
            db["people"].insert({"id": "x", "name": "mallory", "created_at": "", "updated_at": ""})
        return {
            "tables": db.table_names(),
            "views": db.view_names(),
            "rows": builds.count,
            "columns": [column.name for column in builds.columns],
            "keys": {key.column: key.other_table for key in builds.foreign_keys},
            "indexes": len(builds.indexes) + len(builds.xindexes),
            "search": builds.detect_fts(),
            "found": [row["label"] for row in builds.search("quince")],
            "triggers": len(builds.triggers),
            "schema": "CREATE TABLE" in builds.schema,
            "journal": db.journal_mode,
            "first": next(iter(db.query("SELECT label FROM diffs ORDER BY label")))["label"],
        }

    before = content_of(team.path)
    with site_over(team.path, registry) as site:
        site.page("/team/builds")

        async def ask() -> dict[str, Any]:
            found: dict[str, Any] = await site.datasette.databases["team"].execute_fn(read)
            return found

        found = asyncio.run(ask())
    assert {"builds", "runs"} <= set(found["tables"])
    assert "shelf" in found["views"]
    assert found["rows"] == 5
    assert "dry_mass_g" in found["columns"]
    assert found["keys"]["diff"] == "diffs"
    assert found["indexes"] and found["triggers"] and found["schema"]
    assert found["search"] == "builds_search"
    assert found["found"] == ["rear-b/2"]
    assert found["journal"] == "wal"
    assert found["first"] == "front-a"
    assert content_of(team.path) == before
