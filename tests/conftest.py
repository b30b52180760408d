"""What the tests share: a fresh database, a registry without entry points, and the command line run in process."""

from __future__ import annotations

import gc
import json
import os
import sqlite3
import sys
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from functools import cache
from hashlib import sha256
from pathlib import Path
from shutil import copyfile, disk_usage, rmtree
from tempfile import TemporaryDirectory, gettempdir, mkdtemp
from time import monotonic
from typing import Any, NamedTuple

import pytest
from _pytest.doctest import DoctestModule
from constructed import Add, Team, adding
from hypothesis import settings

from bevelbook.cli import main
from bevelbook.declare.known_units import KNOWN
from bevelbook.display.line_width import set_terminal_width
from bevelbook.facts.renew import renew_all, renew_touched
from bevelbook.facts.touched_diffs import watch
from bevelbook.plugin.registry import Registry, load
from bevelbook.records import Kind
from bevelbook.store import entries
from bevelbook.store.closed_file import write_closed
from bevelbook.store.opening import new_database, open_for_writing
from bevelbook.store.writing import Writer

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

collect_ignore = ["examples"]
"""Packages with tests of their own, which run where they are installed: see test_examples.py."""

_MEMORY = Path("/dev/shm")
_ROOM_BYTES = 2 * 1024**3
"""Several times what the folders of the tests hold at once, since each goes when its test has passed."""


def pytest_configure(config: pytest.Config) -> None:
    """Keep the folders of tests in memory where there is room: databases wait for the disk at each commit.

    What is known of examined plugins is kept in a folder of the tests.
    """
    if "PYTEST_XDIST_WORKER" in os.environ:
        config.pluginmanager.register(_InOrder())
    config.pluginmanager.register(_OnlyExamples())
    _keep_bytecode(config)
    if _MEMORY.is_dir() and os.access(_MEMORY, os.W_OK) and disk_usage(_MEMORY).free > _ROOM_BYTES:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(_MEMORY))
    kept = mkdtemp(prefix="bevelbook-tests-", dir=os.environ.get("PYTEST_DEBUG_TEMPROOT"))
    config.add_cleanup(lambda: rmtree(kept, ignore_errors=True))
    os.environ["XDG_CACHE_HOME"] = kept


def _keep_bytecode(config: pytest.Config) -> None:
    """Where no bytecode may be written beside the sources, keep it with what pytest keeps between runs.

    Without it each process, of which the tests start hundreds, compiles all that it imports, and each that collects
    rewrites every assertion, for 40 s of processor time. Not where pytest may keep nothing (``-p no:cacheprovider``),
    nor where somebody has said where bytecode goes.
    """
    cache: pytest.Cache | None = getattr(config, "cache", None)
    if not sys.dont_write_bytecode or cache is None or sys.pycache_prefix is not None:
        return
    try:
        kept = cache.mkdir("bytecode")
    except OSError:
        return
    os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix = str(kept)
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    for folder in {gettempdir(), os.environ.get("PYTEST_DEBUG_TEMPROOT", gettempdir())}:
        of_tests = kept / Path(folder).relative_to(Path(folder).anchor)
        config.add_cleanup(lambda of_tests=of_tests: rmtree(of_tests, ignore_errors=True))


class _OnlyExamples:
    """A plugin: looks for examples in docstrings only in files that have one, which most have not."""

    @pytest.hookimpl(wrapper=True)
    def pytest_collect_file(self, file_path: Path) -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
        found = yield
        if file_path.suffix != ".py" or ">>>" in file_path.read_text(encoding="utf-8"):
            return found
        return [one for one in found if not isinstance(one, DoctestModule)]


def pytest_runtest_setup() -> None:
    """No test has the terminal of the test before it: a command run in process takes its width from ``COLUMNS``."""
    set_terminal_width(None)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """While tests are collected nearly nothing becomes garbage: looking for it takes a third of that time.

    What was collected and imported stays to the end, so no later look for garbage goes through it.
    """
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


class _FromItsShare(pytest.Dir):
    """A folder of which each process collects its share first: one of three begins behind a third of it."""

    def collect(self) -> Iterator[pytest.Item | pytest.Collector]:
        held = list(super().collect())
        process, processes = (int(os.environ[name].removeprefix("gw")) for name in _PROCESSES)
        begins = len(held) * process // processes
        return iter(held[begins:] + held[:begins])


_PROCESSES = ("PYTEST_XDIST_WORKER", "PYTEST_XDIST_WORKER_COUNT")


def pytest_collect_directory(path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """Each process collects another share first, so that it prepares those files, and keeps them for the others.

    Where nothing is kept yet, that takes longer than all else that collecting does, and every process must run the same
    list: ``_InOrder``.
    """
    is_one_of_several = all(name in os.environ for name in _PROCESSES)
    return _FromItsShare.from_parent(parent, path=path) if is_one_of_several else None


class _InOrder:
    """A plugin: puts what was collected in the order of the files, which must be the same in every process."""

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items.sort(key=lambda item: (item.path, type(item).__name__))


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The longest tests first, so that no process ends with one of them while the other has nothing left."""
    items.sort(key=lambda item: item.get_closest_marker("long") is None)


FIXED_NOW = "2026-05-04T10:00:00.000Z"


class Outcome(NamedTuple):
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@cache
def _new_bytes() -> bytes:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "new.db"
        new_database(path).close()
        return path.read_bytes()


def empty_database(path: Path) -> Path:
    """A new, empty database at that path: a copy of one, since making one takes thirty times as long."""
    write_closed(path, _new_bytes())
    return path


@pytest.fixture
def db(tmp_path: Path) -> Path:
    """The path of a new, empty database."""
    return empty_database(tmp_path / "team.db")


class _Shared:
    """One connection for the tests of a process: reading the schema, at the first statement, takes most of what a
    connection costs. Each test has a transaction of its own on it, which is taken back, with what it made in ``temp``.
    A test that ends the transaction, closes the connection or changes how it answers has the last use of it.
    """

    def __init__(self) -> None:
        self._folder: TemporaryDirectory[str] | None = None
        self._held: sqlite3.Connection | None = None
        self._pragmas: list[object] = []

    def begun(self) -> sqlite3.Connection:
        """A connection to an empty database, inside one entry and transaction."""
        if self._held is None:
            self._folder = TemporaryDirectory(dir=os.environ.get("PYTEST_DEBUG_TEMPROOT"))
            self._held = open_for_writing(empty_database(Path(self._folder.name) / "connected.db"))
            # Made before: where a test makes them, taking that back has SQLite read the schema again.
            watch(self._held)
            renew_all(self._held)
            self._held.commit()
            self._pragmas = _answers_by(self._held)
        self._held.execute("BEGIN IMMEDIATE")
        entries.begin(self._held, asked="a test", by="ana")
        watch(self._held)
        return self._held

    def take_back(self) -> None:
        """End the transaction of a test, and give up the connection where that is not all that has to be undone."""
        made = self._held
        try:
            if made is not None and made.in_transaction:
                made.rollback()
                if _answers_by(made) == self._pragmas:
                    return
        except sqlite3.ProgrammingError:
            pass  # closed by the test
        self.give_up()

    def give_up(self) -> None:
        """Close it, and remove its file."""
        if self._held is not None:
            self._held.close()
        if self._folder is not None:
            self._folder.cleanup()
        self._held = self._folder = None


_SETTINGS = ("foreign_keys", "recursive_triggers", "query_only", "ignore_check_constraints", "defer_foreign_keys")


def _answers_by(made: sqlite3.Connection) -> list[object]:
    """How a connection answers, as far as a rollback leaves it; what a test sets besides is its own to undo."""
    given = made.row_factory, made.text_factory, made.isolation_level
    made.row_factory = None
    try:
        settings = [made.execute(f"PRAGMA {name}").fetchone() for name in _SETTINGS]
        attached = made.execute("SELECT name FROM pragma_database_list ORDER BY name").fetchall()
        functions = made.execute("SELECT count(*) FROM pragma_function_list").fetchone()
        left = made.execute("SELECT name FROM sqlite_temp_master ORDER BY name").fetchall()
    finally:
        made.row_factory = given[0]
    return [given, settings, attached, functions, left]


@pytest.fixture(scope="session")
def _shared_connection() -> Iterator[_Shared]:
    shared = _Shared()
    yield shared
    shared.give_up()


@pytest.fixture
def connection(_shared_connection: _Shared) -> Iterator[sqlite3.Connection]:
    """A connection to a new, empty database, inside one entry and transaction that is never committed."""
    yield _shared_connection.begun()
    _shared_connection.take_back()


class WriterWithFacts(Writer):
    """Has the facts follow from each record at once, as the end of a transaction does."""

    def insert(self, kind: Kind, values: Mapping[str, object], **more: Any) -> str:
        row_id = super().insert(kind, values, **more)
        renew_touched(self.connection)
        return row_id

    def update(self, kind: Kind, row_id: str, values: Mapping[str, object], **more: Any) -> bool:
        is_changed = super().update(kind, row_id, values, **more)
        renew_touched(self.connection)
        return is_changed


@pytest.fixture
def writer(connection: sqlite3.Connection) -> Writer:
    """Writes into ``connection`` as ana, at a fixed instant."""
    return WriterWithFacts(connection, "ana", lambda: FIXED_NOW)


@pytest.fixture
def add(writer: Writer) -> Add:
    """Adds a record of any kind: ``add("weighing", build=b, mass_g=14.26)`` gives its id."""
    return adding(writer)


@pytest.fixture
def team(add: Add) -> Team:
    """A diff with a scale, and a way to make its builds one after the other."""
    return Team(add)


@pytest.fixture(scope="session")
def registry() -> Registry:
    """The installed plugins."""
    return load()


@pytest.fixture(scope="module", autouse=True)
def _no_unit_stays_behind() -> Iterator[None]:
    """Have the units of plugins that are a file forgotten behind the tests that dropped it: the table of units is one
    for the process, and knows those of an earlier plugin until another contradicts them."""
    yield
    # One that two gave alike is known as that of the first, until this is forgotten.
    while origins := {one for unit in KNOWN.all if (one := KNOWN.origin_of(unit) or "").endswith(".py)")}:
        for origin in origins:
            KNOWN.take(origin, ())


@pytest.fixture
def bevelbook(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Callable[..., Outcome]:
    """Run the command line in process, in an empty folder and without the user's environment."""
    for name in ("BEVELBOOK_DB", "BEVELBOOK_BY", "BEVELBOOK_PLUGINS", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)

    def run(*words: object) -> Outcome:
        with pytest.raises(SystemExit) as ended:
            main([str(word) for word in words])
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return Outcome(int(ended.value.code or 0), out, err)

    return run


Begin = Callable[..., None]
_BEGUN_SECONDS = 60.0
"""Less than the two minutes within which the tool takes what is written twice for a slip."""


@pytest.fixture(scope="session")
def begin(tmp_path_factory: pytest.TempPathFactory) -> Begin:
    """Run commands that must all end well and leave their database at ``path``: ``begin(bevelbook, path, ("new",))``.

    Where the same function ran the same commands on the same file in the last minute, what they left is copied. The
    folder of the file is another one in each test, and does not count.
    """
    folder = tmp_path_factory.mktemp("begun")
    left: dict[object, tuple[float, Path]] = {}

    def done(run: Callable[..., Outcome], path: Path, *commands: Sequence[object]) -> None:
        before = sha256(path.read_bytes()).digest() if path.exists() else None
        whatever_folder = tuple(tuple(None if word == path else word for word in words) for words in commands)
        key = (run.__module__, run.__qualname__, path.name, before, whatever_folder)
        at, kept = left.get(key, (0.0, folder / f"{len(left)}.db"))
        if kept.exists() and monotonic() - at < _BEGUN_SECONDS:
            copyfile(kept, path)
            return
        started = monotonic()
        for words in commands:
            outcome = run(*words)
            assert outcome.code == 0, (words, outcome.err)
        assert not path.with_name(f"{path.name}-wal").exists(), "its last changes are beside the file"
        copyfile(path, kept)
        left[key] = (started, kept)

    return done
