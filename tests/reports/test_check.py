"""What is worth a look: reader, hostile plugins, grouping, ideas, the command, the demo."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from conftest import FIXED_NOW, Outcome
from constructed import Add, Team, adding
from demo_book import demo_book

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.facts.ideas import last_venue
from bevelbook.plugin.check import Finding, Reader, fault_of
from bevelbook.plugin.registry import Registry, load
from bevelbook.records import BY_NAME
from bevelbook.reports.check import OLDER_FACTS, check
from bevelbook.reports.every_finding import every_finding
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Outcome]


# The reader


@pytest.mark.parametrize(
    "sql",
    [
        "SELECT 1 AS one",
        "  -- a remark\n select 1 AS one",
        "/* a remark */ WITH one AS (SELECT 1 AS one) SELECT one FROM one",
    ],
)
def test_a_reader_answers_what_asks(connection: sqlite3.Connection, sql: str) -> None:
    assert Reader(connection).rows(sql) == [{"one": 1}]


@pytest.mark.parametrize(
    "sql",
    [
        "DELETE FROM people",
        "INSERT INTO people (id) VALUES ('x')",
        "PRAGMA query_only = OFF",
        "ATTACH ':memory:' AS other",
        "EXPLAIN DELETE FROM people",
        "",
        "-- nothing",
        "WITH one AS (SELECT 1) DELETE FROM people",
        "SELECT 1; DELETE FROM people",
        "SELECT * FROM no_such_table",
        "SELECT ?",
    ],
)
def test_a_reader_refuses_all_else_and_the_writer_can_write_after_it(
    connection: sqlite3.Connection, add: Add, sql: str
) -> None:
    add("person", name="ana")
    with pytest.raises(InputError) as caught:
        Reader(connection).rows(sql)
    assert caught.value.code == "not_read"
    add("person", name="bo")
    assert connection.execute("SELECT count(*) FROM people").fetchone()[0] == 2


def test_a_reader_works_where_an_authorizer_refuses_pragmas(connection: sqlite3.Connection) -> None:
    def allowed(action: int, *_: object) -> int:
        return sqlite3.SQLITE_DENY if action == sqlite3.SQLITE_PRAGMA else sqlite3.SQLITE_OK

    connection.set_authorizer(allowed)
    assert Reader(connection).rows("SELECT ? AS given", (3,)) == [{"given": 3}]
    connection.set_authorizer(None)


# Plugins that fail

HEAD = "from bevelbook import Finding, hookimpl\n"
GOOD = """
def good(**changes):
    values = dict(code="odd", severity="caution", words="it is odd", remedy="Look.", subject_table="people",
                  subject_id="p", subject_label="ana")
    return Finding(**{**values, **changes})
"""


@pytest.fixture
def checked(connection: sqlite3.Connection, writer: Writer, tmp_path: Path) -> Callable[..., Registry]:
    """Load plugins of this text beside a good one, and run their checks."""
    writer.insert(BY_NAME["person"], {"name": "ana"}, row_id="p")

    def load_them(body: str) -> Registry:
        for name, text in (("bad", body), ("good", "    return [good()]")):
            code = f"{HEAD}{GOOD}\n@hookimpl\ndef bevelbook_checks(reader):\n{text}\n"
            (tmp_path / f"{name}.py").write_text(code, encoding="utf-8")
        return load(entry_points=(), folder=tmp_path)

    return load_them


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        ("    raise KeyError('gone')", "bevelbook_checks raised KeyError: 'gone'"),
        ("    raise SystemExit(3)", "bevelbook_checks raised SystemExit: 3"),
        ("    return 3", "bevelbook_checks raised TypeError"),
        ("    yield 3\n    yield 3", "bevelbook_checks returned 3 is not a Finding"),
        ("    return ['oil!']", "bevelbook_checks returned 'oil!' is not a Finding"),
        ("    return [good(severity='awful')]", "severity='awful', which is none of stop, caution, worth a look"),
        ("    return [good(words='  ')]", "words='  ', which has to be words"),
        ("    return [good(words=None)]", "words=None, which has to be words"),
        ("    return [good(code='Odd One')]", "code='Odd One', which has to be lower-case words joined by _"),
        ("    return [good(subject_table='people; DROP TABLE people')]", "which is not a table"),
        ("    return [good(subject_id='nobody')]", "a Finding about no row of people"),
        ("    reader.rows('DELETE FROM people')", "a check may only read"),
        ("    return reader.rows('SELECT name FROM people')", "is not a Finding"),
    ],
)
def test_a_hostile_check_is_named_and_left_out(
    connection: sqlite3.Connection, checked: Callable[..., Registry], body: str, reason: str
) -> None:
    registry = checked(body)
    for _ in range(2):
        report = check(connection, registry)
        assert [one.words for one in report.team] == ["it is odd"]
        (left_out,) = report.left_out
        assert left_out.origin.plugin == "bad"
        assert reason in left_out.reason
    assert connection.execute("SELECT count(*) FROM people").fetchone()[0] == 1


def test_a_finding_whose_repr_raises_is_named_by_its_type() -> None:
    class Sly:
        def __repr__(self) -> str:
            raise RuntimeError

    assert fault_of(Sly()) == "a Sly that cannot be shown (RuntimeError) is not a Finding"


# Grouping


def plugin(tmp_path: Path, *findings: tuple[str, str, str]) -> Registry:
    lines = "".join(f"    yield good(severity={a!r}, subject_table={b!r}, subject_id={c!r})\n" for a, b, c in findings)
    code = f"{HEAD}{GOOD}\n@hookimpl\ndef bevelbook_checks(reader):\n{lines}"
    (tmp_path / "some.py").write_text(code, encoding="utf-8")
    return load(entry_points=(), folder=tmp_path)


def test_findings_stand_under_their_diff_worst_first(
    connection: sqlite3.Connection, add: Add, team: Team, tmp_path: Path
) -> None:
    build = team.build(oil_mass_g=1.86)
    other = Team(add, "rear-b")
    weighing = add("weighing", build=other.build(oil_mass_g=1.86), mass_g=22.4, mass_basis="closed", runs=0.0)
    run = add("run", label="r", run_on="2026-02-01")
    run_diff = add("run_diff", run=run, build=build)
    registry = plugin(
        tmp_path,
        ("worth a look", "builds", build),
        ("caution", "run_diffs", run_diff),
        ("caution", "diffs", team.diff),
        ("stop", "weighings", weighing),
        ("worth a look", "runs", run),
    )
    report = check(connection, registry)
    assert [(one.label, [finding.severity for finding in one.findings]) for one in report.diffs] == [
        ("rear-b", ["stop"]),
        ("rear-a", ["caution", "caution", "worth a look", "worth a look"]),
    ]
    assert [one.subject_table for one in report.team] == ["runs"]
    assert [one.code for one in report.diffs[1].findings].count("not_weighed") == 1, "of our own"
    assert report.summary() == "5 findings before the next time out: 1 stop, 2 caution, 2 worth a look."
    assert report.past_in_words() == "About the past: 1 finding: 1 worth a look", "a run of no diff"
    of_one = check(connection, registry, "rear-a")
    assert [one.label for one in of_one.diffs] == ["rear-a"]
    assert of_one.team == []
    with pytest.raises(UnknownNameError):
        check(connection, registry, "rear-x")


@pytest.mark.parametrize(
    ("feel", "is_reported"), [("loose", True), ("notchy", True), ("stiff all round", True), ("smooth", False)]
)
def test_a_build_in_use_that_turned_badly_by_hand_is_reported(
    connection: sqlite3.Connection, registry: Registry, team: Team, feel: str, is_reported: bool
) -> None:
    team.build(hand_feel="gritty")
    build = team.build(hand_feel=feel)
    found = [one for one in check(connection, registry).findings if one.code == "turns_badly"]
    assert [one.subject_label for one in found] == (["rear-a/2"] if is_reported else [])
    team.open(build)
    assert not [one for one in check(connection, registry).findings if one.code == "turns_badly"]


def test_lost_oil_and_the_runs_left_need_no_plugin(connection: sqlite3.Connection, team: Team) -> None:
    team.weigh(team.build(oil_mass_g=1.86), (0, 22.35), (6, 22.05))
    report = check(connection, load(entry_points=()))
    assert [(one.code, one.severity) for one in report.findings] == [("oil_lost", "stop")]
    (group,) = report.diffs
    assert group.service is not None
    assert [(one.by, one.left) for one in group.service.left] == [("oil lost", 0.0), ("feel", None)]


# Ideas


def test_ideas_stand_under_their_venue_that_of_the_last_run_first(
    connection: sqlite3.Connection, registry: Registry, add: Add
) -> None:
    def report_lines() -> list[str]:
        lines = [line.strip() for line in check(connection, registry).lines()]
        return lines[lines.index("") + 1 :]

    hall, field = add("venue", name="Hall"), add("venue", name="Field")
    add("idea", text="at any place")
    add("idea", text="for the hall", venue=hall)
    add("idea", text="for the field", venue=field)
    assert last_venue(connection) is None
    heads = ["Still to try at Field", "for the field", "", "Still to try at Hall", "for the hall", ""]
    assert report_lines()[:6] == heads
    add("run", label="1", run_on="2026-02-01", venue=field)
    add("run", label="2", run_on="2026-02-08", venue=hall)
    assert report_lines() == [*heads[3:], *heads[:3], "Still to try anywhere", "at any place", ""]
    report = check(connection, registry).as_dict()["ideas"]
    assert (report["venue"], [one["venue"] for one in report["open"]]) == ("Hall", ["Hall", "Field", None])


def test_an_idea_is_noted_and_tried_from_the_command_line(bevelbook: Run, db: Path) -> None:
    for words in (
        ("venue", "name=Hall"),
        ("diff", "label=rear-a", "housing_material=aluminium"),
        ("idea", "text=thicker on dust", "venue=Hall", "noted_on=2026-02-01"),
        ("run", "run_on=2026-02-01", "venue=Hall"),
    ):
        assert bevelbook("--db", db, "record", *words).code == 0
    assert "thicker on dust" in bevelbook("--db", db, "check").out
    done = bevelbook("--db", db, "record", "build", "diff=rear-a", "built_on=2026-02-02", "tries=thicker on dust")
    assert done.code == 0
    assert "thicker on dust" not in bevelbook("--db", db, "check").out


# The command


@pytest.fixture
def leaking(db: Path) -> Path:
    connection = open_for_writing(db)
    with transaction(connection, db):
        team = Team(adding(Writer(connection, "ana", lambda: FIXED_NOW)), "rear-d")
        build = team.build(oil_mass_g=1.86)
        team.weigh(build, (0, 22.35), (6, 22.34), (13, 22.05))
        team.run(build, "2026-02-01", 41.0)
    connection.close()
    return db


def test_a_leak_is_reported_with_what_to_do_and_exit_code_1(bevelbook: Run, leaking: Path) -> None:
    done = bevelbook("--db", leaking, "check")
    assert done.code == 1
    lines = done.out.splitlines()
    assert lines[:2] == ["Before the next time out", "  1. rebuild rear-d (lost 0.30 g of 1.86 g (16 %))"]
    about = next(place for place, line in enumerate(lines) if line.startswith("rear-d: "))
    assert lines[about].startswith("rear-d: rear-d/1, filled 41 runs ago, built ")
    assert lines[about + 1].startswith("  STOP: rear-d/1 oil lost: lost 0.30 g of 1.86 g (16 %) by run 13,")
    assert any(line.startswith("    -> Do not run it.") for line in lines)
    assert any("28 runs since it was last weighed" in line for line in lines)
    assert lines[-2].endswith("1 stop, 1 caution, 1 worth a look.")
    assert lines[-1].startswith("No backup of this book was made on this computer: ")


def test_for_programs_it_is_data_and_writes_nothing(bevelbook: Run, leaking: Path) -> None:
    before = leaking.read_bytes()
    done = bevelbook("--db", leaking, "check", "--json")
    assert done.code == 1
    assert leaking.read_bytes() == before
    (diff,) = done.json["diffs"]
    assert (diff["diff"], diff["build"], diff["runs_since_opened"], diff["open"]) == ("rear-d", "rear-d/1", 41.0, False)
    assert {one["code"] for one in diff["findings"]} == {"oil_lost", "doubtful_runs", "weighed_long_ago"}
    of_check = {"name", "past", "resting", "put_by", "plugin"}
    assert set(diff["findings"][0]) == {field.name for field in Finding.fields} | of_check
    assert {one["name"] for one in diff["findings"]} == {
        f"rear-d/1 {one['code']}".replace("_", " ") for one in diff["findings"]
    }
    assert done.json["counts"] == {"stop": 1, "caution": 1, "worth a look": 1}


def test_nothing_found_is_exit_code_0(bevelbook: Run, db: Path) -> None:
    done = bevelbook("--db", db, "check")
    assert (done.code, done.out, done.err) == (0, "Nothing found.\n", "")
    assert bevelbook("--db", db, "check", "rear-x").code == 2


def test_a_plugin_left_out_is_named_on_standard_error(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    folder = tmp_path / "plugins"
    folder.mkdir()
    (folder / "sly.py").write_text(
        "from bevelbook import hookimpl\n@hookimpl\ndef bevelbook_checks(reader):\n    raise ValueError('no')\n",
        encoding="utf-8",
    )
    done = bevelbook("--plugins", folder, "--db", db, "check", "--json")
    assert done.code == 1
    assert "plugin sly" in done.err
    assert "bevelbook_checks raised ValueError: no" in done.json["left_out"][0]
    outcome = bevelbook("--plugins", folder, "--db", db, "check")
    assert (outcome.code, outcome.out) == (
        1,
        "Nothing found, but the checks of 1 plugin failed: there may be something.\n",
    )


# The demo


@pytest.fixture(scope="module")
def demo_database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[sqlite3.Connection]:
    connection = open_for_reading(demo_book(tmp_path_factory.mktemp("demo") / "demo.db"))
    yield connection
    connection.close()


@pytest.mark.parametrize("newest_only", [False, True])
def test_cautions_alone_are_those_of_all_that_is_found(
    demo_database: sqlite3.Connection, registry: Registry, newest_only: bool
) -> None:
    """With their numbers and in their order, though what is only worth a look is then not looked for."""
    found = every_finding(demo_database, registry, newest_only=newest_only)
    worse = {diff: [one for one in of_diff if one.severity != "worth a look"] for diff, of_diff in found.items()}
    cautions = every_finding(demo_database, registry, newest_only=newest_only, cautions_only=True)
    assert sum(map(len, cautions.values())) < sum(map(len, found.values()))
    assert cautions == {diff: of_diff for diff, of_diff in worse.items() if of_diff} != {}


def test_in_the_demo_two_diffs_lost_oil_and_no_other(demo_database: sqlite3.Connection, registry: Registry) -> None:
    """As the invented team's oil was made: rear-b in two builds, rear-d in one, from about run 6 on."""
    report = check(demo_database, registry)
    assert report.left_out == ()
    lost = {
        (group.label, one.subject_label): one.words
        for group in report.diffs
        for one in group.findings
        if one.code == "oil_lost"
    }
    assert sorted(lost) == [("rear-b", "rear-b/2"), ("rear-b", "rear-b/3"), ("rear-d", "rear-d/4")]
    assert all(" g of 1." in words and " runs, ± " in words for words in lost.values())
    assert "good at run 6, bad at run 13" in lost["rear-d", "rear-d/4"]
    doubtful = {one.subject_label for one in report.findings if one.code == "doubtful_runs"}
    assert doubtful == {"rear-b/2", "rear-b/3", "rear-d/4"}
    thicker = [one.words for one in report.findings if one.code == "oil_changed_on_a_leak"]
    assert any("on a diff that had lost 20 % of its oil" in words for words in thicker)


def test_the_demo_knows_its_label_and_its_contradiction(demo_database: sqlite3.Connection, registry: Registry) -> None:
    found = {one.code: one.words for one in check(demo_database, registry).team}
    assert found["label_disagrees"].startswith("labelled 7,000 cSt, measured 6,150 ± 300 cSt (k = 2): 12 % thinner")
    assert found["comparisons_contradict"].endswith("these cannot all be right")


def test_a_check_of_a_new_database_in_another_file_is_silent(tmp_path: Path, registry: Registry) -> None:
    connection = new_database(tmp_path / "new.db")
    assert check(connection, registry).findings == []
    connection.close()


def test_facts_by_older_definitions_are_no_fault_of_anybody(bevelbook: Run, db: Path) -> None:
    """A database that an earlier version wrote last: the next command that writes works its facts out again."""
    bevelbook("--db", db, "record", "diff", "label=rear-x", "housing_material=aluminium")
    with closing(sqlite3.connect(db, isolation_level=None)) as connection:
        connection.execute("UPDATE diff_facts SET word = 'ready'")
        connection.execute("UPDATE about SET value = '1' WHERE name = 'facts'")
    said = " ".join(bevelbook("--db", db, "check").out.split())
    assert OLDER_FACTS.replace("bevelbook", f"bevelbook --db {db}") in said
    assert "another program" not in said
    again = bevelbook("--db", db, "record", "venue", "name=Brickfield")
    assert "worked out again, by the definitions of this version" in again.err
    assert "older version" not in bevelbook("--db", db, "check").out
