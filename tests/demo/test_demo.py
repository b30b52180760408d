"""The demo: its files are what its generator writes, it shows what it is there to show, and a second run is idle.

Expected numbers are those of the demo's own table of generators (``plan.py``, ``world.py``): constructed, since the
team is invented.
"""

from __future__ import annotations

import csv
import io
import json
import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from statistics import fmean
from typing import Any

import pytest
from noise import NOISE

from bevelbook.card.procedure import bundled_procedure, steps_for
from bevelbook.demo import make as demo_task
from bevelbook.demo.files import BENCH, NOTES, STOCK
from bevelbook.demo.make import DemoResult, demo
from bevelbook.facts.bench_minutes import LEAST_BUILDS, BenchMinutes
from bevelbook.facts.bottles_left import bottles_left
from bevelbook.facts.car_diffs import set_at_run
from bevelbook.facts.car_times import moment_of
from bevelbook.facts.stock import stock_left
from bevelbook.facts.views import VIEWS
from bevelbook.notes.importing import import_notes
from bevelbook.notes.profiles import read_profile
from bevelbook.planning.event_to_come import event_to_come
from bevelbook.planning.places import diffs_in_place
from bevelbook.plugin.registry import Registry, load
from bevelbook.reports.check import check
from bevelbook.reports.oil_lost_builds import lost_builds
from bevelbook.store.calculation_views import key_of_view
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.keeping import HIDDEN
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import new_database
from bevelbook.web.host.found_at import FoundAt
from bevelbook_datasets.demo import bench_times, make_demo, plan, race_days

FOLDER = Path(make_demo.__file__).parent
LEAKING = {"rear-b/2", "rear-b/3", "rear-d/4"}
INVENTED_NAMES = {"Tannery", "Hall", "North", "Quay", "Brickfield"}
OTHER_CAPITALS = {
    *("Invented", "No", "March", "NBR", "O", "A", "B", "M2", "DEMO", "TABLE", "YAML", "URL"),
    *(
        "The",
        "Do",
        "So",
        "This",
        "To",
        "Of",
        "On",
        "About",
        "Comes",
        "German",
        "French",
        "Fahrenheit",
        "Celsius",
        "Sheet",
    ),
}
GERMAN = {
    *("Heft", "Auto", "Tag", "Wer", "Diff", "Öl", "Sorte", "Strecke", "Platz", "Halt", "Bahn", "Luft", "Kegel"),
    *("Läufe", "Urteil", "Wie", "F", "Heck", "Beschleunigen", "Kurve", "Vortrieb", "Spitzkehre", "Fugen", "Mitte"),
    *("Rad", "Lauf", "Abend", "Halle", "Zahlendreher"),
}


@pytest.fixture(scope="module")
def registry_once() -> Registry:
    return load()


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory, registry_once: Registry) -> DemoResult:
    """The demo, made once."""
    return demo(tmp_path_factory.mktemp("demo") / "demo.db", registry_once, None)


@pytest.fixture
def made(shown: DemoResult) -> Iterator[sqlite3.Connection]:
    """A connection to read the demo's database."""
    connection = open_for_reading(shown.path)
    yield connection
    connection.close()


def content(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, and every view's text."""
    connection = sqlite3.connect(path)
    try:
        tables = [row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        found = {name: sorted(connection.execute(f'SELECT * FROM "{name}"').fetchall(), key=repr) for name in tables}
        found["the schema"] = connection.execute("SELECT type, name, sql FROM sqlite_master ORDER BY 1, 2").fetchall()
    finally:
        connection.close()
    return found


def test_the_generator_writes_the_committed_files_byte_for_byte() -> None:
    files = make_demo.files()
    assert {name: (FOLDER / name).read_bytes() for name in files} == files
    assert {path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.csv")} == set(files)
    assert {Path(name).stem for name in files if name.startswith("records/")} == {*STOCK, *BENCH}


def test_every_file_says_that_it_is_invented() -> None:
    paths = [path for path in FOLDER.rglob("*") if path.is_file() and "__pycache__" not in path.parts]
    assert len(paths) > 30
    for path in paths:
        head = path.read_text(encoding="utf-8")[:400].lower()
        assert "invented" in head or path.suffix == ".py", path


def test_no_name_in_the_files_is_of_the_real_world() -> None:
    """Every capitalised word is one of the invented names, or a word that is not a name."""
    of_steps = {word for one in bundled_procedure().steps for word in one.title.split()}
    for path in (*FOLDER.rglob("*.csv"), *FOLDER.glob("profile_*.yaml"), FOLDER / "DEMO.txt"):
        words = set(re.findall(r"\b[A-ZÄÖÜ][\wäöüß]*", path.read_text(encoding="utf-8")))
        words = {word for word in words if not re.fullmatch(r"[A-Z]\d*", word)}
        assert words <= INVENTED_NAMES | OTHER_CAPITALS | GERMAN | of_steps, path
    fluids = csv.DictReader((FOLDER / "records/fluids.csv").read_text().splitlines()[1:])
    assert {row["label"] for row in fluids if not row["label"].startswith("club ")} == {"7k", "60 wt"}


def test_there_is_as_much_of_it_as_the_plan_says(made: sqlite3.Connection, shown: DemoResult) -> None:
    def count(table: str) -> int:
        return int(made.execute(f"SELECT count(*) FROM {table}").fetchone()[0])

    assert count("builds") == len(plan.PLANNED_BUILDS) == pytest.approx(34, abs=2)
    assert count("runs") == pytest.approx(120, rel=0.1)
    assert count("weighings") == pytest.approx(60, rel=0.1)
    assert count("openings") == 28
    assert (count("people"), count("diffs"), count("venues"), count("cars")) == (4, 6, 3, 4)
    assert sum(report.read for report in shown.reports) == pytest.approx(150, rel=0.1)
    assert len(plan.RACE_DAYS) == 14
    days = {row[0] for row in made.execute("SELECT DISTINCT run_on FROM runs")}
    assert days == set(plan.RACE_DAYS) | set(plan.PRACTICE_DAYS)
    for table, column in (("builds", "label"), ("runs", "label")):
        assert made.execute(f"SELECT count(DISTINCT {column}) FROM {table}").fetchone()[0] == count(table)
    assert not shown.missing


def test_the_cars_have_in_them_what_they_ran_last(made: sqlite3.Connection) -> None:
    """rear-b went into the red car in the middle of the last race day, rear-d was in the blue one to the end."""
    event = made.execute("SELECT id FROM events WHERE name = ?", (race_days.TO_COME,)).fetchone()[0]
    place = diffs_in_place(made, event_to_come(made, event).cars)
    assert [(one.car_name, one.position, one.label, one.runs_planned) for one in place.diffs if not one.is_spare] == [
        ("blue 2026", "front", "front-b", 6),
        ("blue 2026", "rear", "rear-d", 6),
        ("red 2026", "front", "front-a", 6),
        ("red 2026", "rear", "rear-b", 6),
    ]
    assert [one.label for one in place.spares] == ["rear-a", "rear-c"]
    assert place.without == ()


def test_what_is_written_of_the_cars_is_what_ran(made: sqlite3.Connection) -> None:
    """The runs in turn apart: nobody writes each change of those down. A spool is in no run."""
    tests = {test.day for test in plan.TESTS}
    runs = made.execute("SELECT id, label, car, run_on FROM runs WHERE car IS NOT NULL ORDER BY run_on, id").fetchall()
    checked = 0
    for run, label, car, day in runs:
        ran = made.execute(
            "SELECT x.position, d.label FROM run_diffs x JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff "
            "WHERE x.run = ?",
            (run,),
        )
        if day not in tests:
            there = set_at_run(made, car, moment_of(made, run)).after
            assert dict(map(tuple, ran)) == {at: one.label for at, one in there.items() if one.label}, label
            checked += 1
    assert checked == 19


def test_the_rebuilds_have_the_steps_of_the_procedure_and_are_timed(made: sqlite3.Connection) -> None:
    """Quartiles need five builds (our own figure)."""
    steps = [
        (one.key, one.title)
        for one in steps_for(bundled_procedure(), "rebuild", gears_are_new=False)
        if one.key != "gasket"
    ]
    for (job,) in made.execute("SELECT id FROM bench_jobs").fetchall():
        done = made.execute("SELECT step, title FROM bench_steps WHERE job = ? ORDER BY begun_at", (job,))
        assert [tuple(row) for row in done] == steps
    usual = BenchMinutes(made).usual("rebuild")
    assert usual is not None
    assert usual.builds == len(bench_times.TIMED_JOBS) >= LEAST_BUILDS
    assert 40 < usual.hands_low_min < usual.hands_min < usual.hands_high_min < 90


def test_what_was_counted_less_what_the_builds_fitted_is_left(made: sqlite3.Connection) -> None:
    """By hand: four rebuilds since the count took two shaft rings each, one the outdrive, one both side gears; a kit
    brought four shaft rings and a joint ring."""
    left = {one.label: one.pieces for one in stock_left(made)}
    assert left["shaft ring"] == 12 + 4 - 4 * 2
    assert left["joint ring"] == 1 + 1
    assert (left["outdrive, lid side"], left["side gear"], left["screw M2 x 8"]) == (1 - 1, 4 - 2, 22 - 2)
    bottles = {one.label: (one.rests_on, one.high_g) for one in bottles_left(made)}
    assert bottles["club 10000, 10000-A"] == ("the scale", pytest.approx(15.62 - 12.4))
    assert bottles["club 5000, 5000-A"][0] == "how it looked"
    assert bottles["7k, 7k-A"] == ("nothing", None)


def test_the_plan_for_the_event_to_come_is_what_its_records_ask_for(shown: DemoResult) -> None:
    """By hand, for 6 runs a car: front-b has 3 runs left of 20 and a ring at its last use; rear-d lies open; front-a
    has done its 20; rear-b has 10,000, thicker than what was kept in such weather, and is opened for it with a ring at
    its last use; rear-a, spare, turned loose; rear-c, spare, has 16 runs left. Three joint rings are wanted, two are
    there: the last diff lacks one.
    """
    lines = {one.label: one for one in shown.plan.every_line}
    assert {label: (one.act, one.where) for label, one in lines.items()} == {
        "front-b": ("rebuild", "blue 2026 front"),
        "rear-d": ("rebuild", "blue 2026 rear"),
        "front-a": ("change the oil", "red 2026 front"),
        "rear-b": ("rebuild", "red 2026 rear"),
        "rear-a": ("look at it", "spare, rear"),
        "rear-c": ("leave it", "spare, rear"),
    }
    assert all(one.oils and one.minutes for one in lines.values() if not one.is_spare)
    assert lines["front-b"].about_oil(is_named=True).startswith("club 3000 cSt that is in")
    assert lines["rear-d"].about_oil(is_named=True) == "", "its reason stands with the others"
    short = {label: [part.what for part in one.parts if part.short] for label, one in lines.items()}
    assert {label: parts for label, parts in short.items() if parts} == {"rear-b": ["joint ring"]}
    assert shown.plan.in_order_of_work[0].label == "rear-b", "first what may need a part that is not there"
    assert [one.what for one in shown.plan.to_order] == ["joint ring", "outdrive, lid side"]
    printed = list(shown.lines())
    assert printed.index("The shelf") < printed.index("Plan for quay race") < printed.index("Builds that lost oil")


def test_the_database_says_that_it_is_invented(made: sqlite3.Connection) -> None:
    assert is_invented(made)


def test_what_the_notes_made_is_what_the_plan_says(made: sqlite3.Connection) -> None:
    found = dict(made.execute("SELECT label, built_on FROM builds").fetchall())
    assert found == {one.label: one.day for one in plan.PLANNED_BUILDS}


def test_the_notes_of_cy_are_rejected_for_eight_different_reasons(shown: DemoResult, made: sqlite3.Connection) -> None:
    report = shown.reports[list(NOTES).index("notes_cy.csv")]
    assert (report.accepted, report.rejected) == (48, 8)
    kept = [row[0] for row in made.execute("SELECT reason FROM note_rejects WHERE status = 'rejected'")]
    assert sorted(kept) == sorted(
        [
            *("approximate_value", "date_invalid", "grip_unknown", "missing_required"),
            *("out_of_range", "range_not_value", "total_below_dry", "viscosity_unit_wt"),
        ]
    )
    warm = made.execute(
        "SELECT track_temp_c, air_temp_c FROM imported_notes WHERE file = 'notes_cy.csv' AND track_temp_c IS NOT NULL"
    ).fetchall()
    assert warm
    assert all(5 < track < 50 and 5 < air < 40 for track, air in warm)
    seven_k = made.execute("SELECT b.viscosity_cst FROM builds b JOIN fluids f ON f.id = fluid WHERE f.label = '7k'")
    assert {row[0] for row in seven_k} == {7000.0, None}


@pytest.mark.parametrize("label", sorted(plan.LITERAL_G))
def test_the_masses_of_the_leaking_diffs_are_the_printed_ones(made: sqlite3.Connection, label: str) -> None:
    found = made.execute(
        "SELECT runs, mass_g FROM masses m JOIN builds b ON b.id = m.build "
        "WHERE b.label = ? AND m.mass_basis = 'closed' ORDER BY runs",
        (label,),
    ).fetchall()
    expected = {
        "rear-b/2": [(0, 22.41), (6, 22.28), (12, 22.16), (18, 22.03), (25, 21.89)],
        "rear-b/3": [(0, 22.39), (6, 22.26), (12, 22.14), (18, 22.01)],
        "rear-d/4": [(0, 22.34), (6, 22.33), (13, 22.04), (17, 21.87)],
    }
    assert [tuple(row) for row in found] == expected[label]


def test_runs_summed_from_the_notes_agree_with_the_runs_at_the_weighings(made: sqlite3.Connection) -> None:
    found = made.execute(
        "SELECT b.label, max(m.runs), (SELECT max(runs_after) FROM build_runs r WHERE r.build = b.id) "
        "FROM masses m JOIN builds b ON b.id = m.build WHERE b.label IN ('rear-b/2', 'rear-b/3', 'rear-d/4') GROUP BY 1"
    ).fetchall()
    assert {tuple(row) for row in found} == {("rear-b/2", 25, 25), ("rear-b/3", 18, 18), ("rear-d/4", 17, 17)}


def test_only_the_two_diffs_have_lost_oil(made: sqlite3.Connection, shown: DemoResult) -> None:
    by_grams = made.execute(
        "SELECT b.label FROM losses l JOIN builds b ON b.id = l.build WHERE l.loss_g >= 0.05 * l.oil_in_g"
    )
    coarse = {one.label for one in plan.PLANNED_BUILDS if one.scale == "kitchen"}
    assert {row[0] for row in by_grams} - coarse == LEAKING
    shelf = {row["label"]: row for row in shown.shelf}
    assert shelf["rear-d"]["loss_g"] == pytest.approx(0.47)
    assert shelf["rear-d"]["word"] == "apart"
    assert all(row["loss_g"] < 0.05 * row["oil_in_g"] for label, row in shelf.items() if label != "rear-d")
    assert shelf["rear-a"]["word"] == "look at it"


def test_the_verdicts_on_oil_lost_name_them_and_no_other(made: sqlite3.Connection, shown: DemoResult) -> None:
    verdicts = dict(
        made.execute(
            "SELECT b.label, k.leak FROM build_facts k JOIN builds b ON b.id = k.build WHERE k.leak IS NOT NULL"
        ).fetchall()
    )
    assert len(verdicts) > 20
    assert {label for label, verdict in verdicts.items() if verdict in ("caution", "stop")} == LEAKING
    assert {one.label for one in shown.lost} == LEAKING
    assert {one.label for one in lost_builds(made)} == LEAKING
    assert {verdict for label, verdict in verdicts.items() if label not in LEAKING} == {"ok"}


def test_the_scale_with_coarse_steps_sees_little(made: sqlite3.Connection) -> None:
    """A difference of two readings in steps of d is good to 2 sqrt(d^2 / 6 + 2 s^2) on one day and to
    2 sqrt(d^2 / 6 + 2 s^2 + 2 t^2) between days: 0.086 and 0.091 g for 0.1 g, s = 0.01 g and t = 0.01 g from day to day
    (JCGM 100, k = 2).
    """
    seen = made.execute(
        "SELECT b.label, k.loss_uncertainty_g FROM build_facts k JOIN builds b ON b.id = k.build "
        "WHERE k.leak IS NOT NULL"
    ).fetchall()
    coarse = {label for label, grams in seen if grams > 0.06}
    assert coarse == {one.label for one in plan.PLANNED_BUILDS if one.scale == "kitchen"}
    one_day = {
        row[0]
        for row in made.execute(
            "SELECT b.label FROM builds b JOIN weighings w ON w.build = b.id "
            "GROUP BY b.id HAVING max(w.weighed_on) = b.built_on"
        )
    }
    for label, grams in seen:
        if label in coarse:
            assert grams == pytest.approx(0.0864 if label in one_day else 0.0909, abs=0.0001), label
    steps = made.execute("SELECT DISTINCT step_g FROM scales WHERE name = 'ana''s kitchen scale'").fetchall()
    assert [row[0] for row in steps] == [0.1]


def test_runs_on_a_leaking_diff_are_marked(made: sqlite3.Connection) -> None:
    found = made.execute(
        "SELECT run_on, group_concat(DISTINCT fill_state) FROM what_worked WHERE build_label = 'rear-d/4' "
        "GROUP BY run_on"
    ).fetchall()
    assert [tuple(row) for row in found] == [
        ("2026-07-05", "full"),
        ("2026-08-09", "doubtful"),
        ("2026-09-06", "lost oil"),
    ]


def test_the_day_the_team_went_thicker_is_named(shown: DemoResult) -> None:
    changes = [line for line in shown.lines() if "going thicker" in line]
    assert len(changes) == 1
    assert "on a diff that had lost 20 % of its oil (rear-b/3)" in changes[0]


def test_low_grip_is_decided_and_medium_grip_is_not(shown: DemoResult) -> None:
    low, medium = shown.compared
    assert [one.days for one in shown.compared] == [
        ("2026-07-05, Brickfield, ana, low grip",),
        ("2026-08-09, North Quay, bo, medium grip",),
    ]
    assert low.result.verdict == "ok"
    assert low.result.outputs["difference_low_s"] > 0
    assert medium.result.verdict == "unclear"
    assert "not decided" in medium.result.outputs["answer"]
    assert low.result.outputs["difference_s"] == pytest.approx(0.18, abs=0.03), "true in the invented world, at 25 °C"
    drift, difference = medium.result.outputs["drift_over_day_s"], medium.result.outputs["difference_s"]
    assert abs(drift) > abs(difference)


def test_weighings_have_the_gaps_of_a_real_notebook(made: sqlite3.Connection) -> None:
    closed = Counter(len(one.weighed) for one in plan.PLANNED_BUILDS)
    count = len(plan.PLANNED_BUILDS)
    assert closed[0] / count == pytest.approx(0.25, abs=0.05)
    assert closed[2] / count == pytest.approx(0.40, abs=0.05)
    not_known = made.execute(
        "SELECT count(DISTINCT build) FROM run_diff_facts WHERE fill_state = 'unknown'"
    ).fetchone()[0]
    assert not_known >= closed[0]


def test_the_diff_was_measured_as_often_as_the_table_says(made: sqlite3.Connection) -> None:
    shares = [
        row[0]
        for row in made.execute(
            "SELECT avg(diff_temp_c IS NOT NULL) FROM run_diffs d JOIN runs r ON r.id = d.run "
            "JOIN builds b ON b.id = d.build WHERE b.label LIKE 'rear%' "
            "GROUP BY run_on >= '2026' ORDER BY run_on >= '2026'"
        )
    ]
    assert shares == [pytest.approx(0.10, abs=0.05), pytest.approx(0.45, abs=0.08)]


def test_temperatures_and_grips_are_those_of_the_venues(made: sqlite3.Connection) -> None:
    highest = made.execute("SELECT max(track_temp_c) FROM runs").fetchone()[0]
    assert highest == pytest.approx(48, abs=3)
    halls = made.execute(
        "SELECT air_temp_c, track_temp_c FROM runs JOIN venues v ON v.id = venue WHERE v.name = 'Tannery Hall'"
    ).fetchall()
    assert all(12 < air < 26 and 0 <= track - air <= 2 for air, track in halls)


def test_lap_times_fit_their_means(made: sqlite3.Connection) -> None:
    timed = made.execute("SELECT lap_times, best_lap_s, best_five_s FROM runs WHERE lap_times IS NOT NULL").fetchall()
    assert len(timed) == 40
    for lap_times, best, best_five in timed:
        laps = sorted(map(float, lap_times.split()))
        assert laps[0] == best
        assert fmean(laps[:5]) == pytest.approx(best_five, abs=0.006)


def test_no_two_rows_of_a_view_are_equal_in_its_key(made: sqlite3.Connection) -> None:
    """It decides the order of rows that are equal in what they are sorted by. Masses have only all columns for it."""
    keys = {view.name: view.key for view in VIEWS}
    views = {row[0] for row in made.execute("SELECT name FROM sqlite_master WHERE type = 'view'")}
    for view in sorted(views - {*HIDDEN}):
        columns = [row[1] for row in made.execute(f"PRAGMA table_info({view})")]
        key = keys.get(view) or key_of_view(view, columns)
        assert set(key) <= set(columns)
        twice = f"SELECT 1 FROM {view} GROUP BY {', '.join(key)} HAVING count(*) > 1"
        assert made.execute(twice).fetchone() is None, view
    assert set(keys["masses"]) == {row[1] for row in made.execute("PRAGMA table_info(masses)")}


def test_odd_fills_and_the_forgotten_shim_are_there(made: sqlite3.Connection) -> None:
    oil = dict(made.execute("SELECT label, oil_mass_g FROM builds").fetchall())
    assert (oil["rear-a/6"], oil["front-b/3"]) == (1.76, 2.13)
    light = made.execute("SELECT dry_mass_g, hand_feel FROM builds WHERE label = 'rear-a/12'").fetchone()
    assert tuple(light) == (12.39, "loose")
    assert made.execute("SELECT squeeze_out FROM builds WHERE label = 'front-b/3'").fetchone()[0] == "runs out"
    blend = made.execute(
        "SELECT json_extract(found, '$.viscosity_blend_cst') FROM calculations WHERE calculator = 'blend'"
    )
    assert blend.fetchone()[0] == pytest.approx(7000, rel=0.001)
    bottle = made.execute("SELECT viscosity_cst, viscosity_uncertainty_cst FROM bottles WHERE lot = '7k-A'").fetchone()
    assert tuple(bottle) == (6150, 150)
    assert made.execute("SELECT viscosity_cst FROM fluids WHERE label = '60 wt'").fetchone()[0] is None


def test_the_forgotten_shim_is_found_by_its_grams(made: sqlite3.Connection, registry_once: Registry) -> None:
    """12.42 then 12.39 g on a scale of 0.01 g with nothing noted: a 5 x 7 x 0.2 mm ring of steel is 0.030 g."""
    changed = [one for one in check(made, registry_once).findings if one.code == "dry_mass_changed"]
    assert [one.subject_label for one in changed] == ["rear-a/9", "rear-a/12"]
    assert "0.03 g lighter with nothing noted as changed" in changed[1].words


def test_an_oil_change_without_a_wash_is_found_by_its_grams(made: sqlite3.Connection, registry_once: Registry) -> None:
    """12.43 then 12.52 g: 0.09 g of the old oil stayed in, and the opening says that nothing was washed."""
    heavier = next(one for one in check(made, registry_once).findings if one.code == "dry_mass_changed")
    assert "12.52 g dry, rear-a/8 had 12.43 g: 0.09 g heavier" in heavier.words
    assert "old oil left in" in heavier.remedy
    note = made.execute("SELECT o.note FROM openings o JOIN builds b ON b.id = o.build WHERE b.label = 'rear-a/8'")
    assert note.fetchone()[0] == "drained only, not washed"


def test_one_fill_was_tared(made: sqlite3.Connection) -> None:
    bare = made.execute(
        "SELECT label FROM builds WHERE parts_on_pan IS NOT NULL AND oil_mass_g IS NOT NULL AND dry_mass_g IS NULL "
        "AND filled_mass_g IS NULL"
    ).fetchall()
    assert tuple(row[0] for row in bare) == plan.TARED


def test_a_diff_was_swapped_on_a_day(made: sqlite3.Connection) -> None:
    found = made.execute(
        "SELECT r.day_order, b.label, r.changed FROM runs r JOIN run_diffs d ON d.run = r.id "
        "JOIN builds b ON b.id = d.build JOIN cars c ON c.id = r.car "
        "WHERE r.run_on = '2026-09-06' AND c.name = 'red 2026' AND d.position = 'rear' ORDER BY 1"
    ).fetchall()
    assert [tuple(row) for row in found] == [
        *((1, "rear-a/12", "nothing"), (2, "rear-a/12", "nothing")),
        *((3, "rear-b/4", "rear-b in for rear-a"), (4, "rear-b/4", "nothing")),
    ]


def test_nobody_drives_two_cars_and_no_car_is_out_twice_at_a_time(made: sqlite3.Connection) -> None:
    for who in ("car", "driver"):
        twice = made.execute(
            f"SELECT 1 FROM runs WHERE started_at IS NOT NULL GROUP BY run_on, started_at, {who} HAVING count(*) > 1"
        )
        assert twice.fetchone() is None


def test_one_run_was_written_down_late(made: sqlite3.Connection) -> None:
    rows = made.execute(
        "SELECT line, date, result_note FROM imported_notes WHERE file = 'notes_season_2.csv' ORDER BY line"
    ).fetchall()
    late = [(row["date"], row["result_note"]) for before, row in pairwise(rows) if row["date"] < before["date"]]
    assert [day for day, _ in late] == [day for day, _, _ in plan.WRITTEN_LATE]
    assert all(note.endswith("written down late") for _, note in late)


def test_one_diff_was_rebuilt_and_not_written_down(made: sqlite3.Connection) -> None:
    """Its runs go on after it was opened, and no build begins between."""
    found = made.execute(
        "SELECT b.label, sum(r.runs) FROM builds b JOIN openings o ON o.build = b.id "
        "JOIN run_diffs d ON d.build = b.id JOIN runs r ON r.id = d.run WHERE r.run_on > o.opened_on GROUP BY 1"
    ).fetchall()
    assert [tuple(row) for row in found] == [(plan.REBUILT_UNWRITTEN, 5)]


def test_one_day_was_run_with_a_spool_in_front(made: sqlite3.Connection) -> None:
    days = made.execute(
        "SELECT r.run_on, count(*), sum(d.position = 'front') FROM runs r JOIN run_diffs d ON d.run = r.id "
        "WHERE r.run_on IN (SELECT run_on FROM runs WHERE changed LIKE 'spool in front%') AND r.car IS NOT NULL "
        "GROUP BY 1"
    ).fetchall()
    assert [tuple(row) for row in days] == [("2026-05-24", 3, 0)]


def test_the_diffs_are_of_the_scenarios_own_size(made: sqlite3.Connection) -> None:
    found = made.execute(
        "SELECT label, usual_dry_mass_g, usual_lid_mass_g, free_volume_cm3, screw_count, screw_size, screw_hole "
        "FROM diffs ORDER BY label"
    ).fetchall()
    screws = (4, "M2 x 8", "blind")
    assert [tuple(row) for row in found] == [
        ("front-a", 12.51, 8.05, None, *screws),
        ("front-b", 12.48, 8.11, None, *screws),
        ("rear-a", 12.42, 8.12, 2.24, *screws),
        ("rear-b", 12.38, 8.18, 2.26, *screws),
        ("rear-c", 12.45, 8.07, 2.27, *screws),
        ("rear-d", 12.40, 8.09, 2.29, *screws),
    ]
    assert {row[0] for row in made.execute("SELECT DISTINCT target_oil_mass_g FROM builds")} == {None, 1.86}
    for label, dry, oil, closed in made.execute(
        "SELECT b.label, b.dry_mass_g, b.oil_mass_g, b.closed_mass_g - d.usual_lid_mass_g FROM builds b "
        "JOIN diffs d ON d.id = b.diff WHERE b.closed_mass_g IS NOT NULL AND b.dry_mass_g IS NOT NULL"
    ):
        heavier, ran_out = plan.HEAVIER_LID_G.get(label, 0.0), plan.RAN_OUT_G.get(label, 0.0)
        assert -0.04 <= closed - dry - oil - heavier + ran_out <= 0.02, label


def test_the_command_says_what_it_did_and_how_to_go_on(bevelbook: Callable[..., Any]) -> None:
    first = bevelbook("--db", "team.db", "demo")
    assert first.code == 0
    for wanted in ("Invented data", "notes_cy.csv", "The shelf", "rear-b/2: lost 0.52 g of 1.86 g", "stop at 14.25 g"):
        assert wanted in first.out
    assert "bevelbook --db team.db serve\n" in first.out
    before = content(Path("team.db"))
    second = bevelbook("--db", "team.db", "demo", "--json")
    assert second.code == 0
    assert second.json["changed"] is False
    assert [one["known"] for one in second.json["imports"]] == [50, 26, 48]
    assert content(Path("team.db")) == before
    third = bevelbook("--db", "team.db", "demo")
    assert "Nothing was changed." in third.out


def test_without_plugins_it_advises_only_what_is_there(tmp_path: Path, shown: DemoResult) -> None:
    """The calculator to try comes with a plugin; the check is always there."""
    bare = list(demo(tmp_path / "bare.db", load(entry_points=()), None).lines())[-2:]
    assert [line.split("bevelbook ", 1)[1] for line in bare] == [
        f"--db {tmp_path / 'bare.db'} check",
        f"--db {tmp_path / 'bare.db'} serve",
    ]
    whole = list(shown.lines())[-2:]
    assert f" calc {shown.calculators.to_try.calculator} --for " in whole[0]
    assert " check" not in whole[0]


@pytest.mark.parametrize("kind", ["a record", "a note file"])
def test_a_database_that_holds_anything_else_is_refused(
    bevelbook: Callable[..., Any], db: Path, kind: str, tmp_path: Path
) -> None:
    if kind == "a record":
        assert bevelbook("--db", db, "record", "person", "name=eve").code == 0
    else:
        note = tmp_path / "old.csv"
        note.write_text("date,diff,runs\n2026-05-03,rear-x,2\n")
        assert bevelbook("--db", db, "import", note).code == 0
    before = content(db)
    refused = bevelbook("--db", db, "demo", "--json")
    assert refused.code == 2
    assert refused.json["code"] == "database_not_empty"
    assert content(db) == before


def test_an_empty_database_is_taken(db: Path, registry_once: Registry, shown: DemoResult) -> None:
    again = demo(db, registry_once, "ana")
    assert not again.is_new
    assert again.changed
    ids = {
        name: {row[0] for row in rows} for name, rows in content(db).items() if name in ("builds", "runs", "weighings")
    }
    there = content(shown.path)
    assert ids == {name: {row[0] for row in there[name]} for name in ids}


def test_a_demo_that_was_stopped_halfway_is_finished_by_the_next(
    tmp_path: Path, registry_once: Registry, shown: DemoResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "stopped.db"

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(demo_task, "_calculate", stopped)
        with pytest.raises(KeyboardInterrupt):
            demo(path, registry_once, None)
    finished = demo(path, registry_once, None)
    assert finished.lost == shown.lost
    assert finished.shelf == shown.shelf


def test_serve_goes_on_to_serve(bevelbook: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> None:
    served: list[str] = []

    def answer(datasette: Any, found: FoundAt) -> None:
        served.extend(name for name in datasette.databases if not name.startswith("_"))
        found.listening.close()

    monkeypatch.setattr("bevelbook.web.host.serve.answer_until_stopped", answer)
    done = bevelbook("--db", "team.db", "demo", "--serve")
    assert (done.code, served) == (0, ["team"])
    assert "(read-only)" in done.out


def test_the_second_profile_reads_a_sheet_with_french_headings(db: Path) -> None:
    sheet = (
        "jour;qui;différentiel;à vide (g);huile;plein;viscosité;piste;adhérence;temp piste;manches;décision;remarque\n"
        "03/05/2026;dee;rear-z;12,40;1,86;14,26;7k;North Quay;ça colle;31;2;garder;bien\n"
        "14/06/2026;dee;rear-z;;;;;North Quay;ça glisse;28;1;on verra;mou\n"
    )
    connection = new_database(db.with_name("french.db"))
    try:
        report = import_notes(
            io.BytesIO(sheet.encode()),
            "sheet.csv",
            connection,
            db,
            read_profile(FOLDER / "profile_dee.yaml"),
            dry_run=True,
            want_rows=True,
        )
    finally:
        connection.close()
    assert report.rows is not None
    first, second = (row["values"] for row in report.rows)
    wanted = {"date": "2026-05-03", "dry_mass_g": 12.4, "viscosity_cst": 7000, "grip": "high", "call": "keep"}
    assert {name: first[name] for name in wanted} == wanted  # type: ignore[index]
    assert json.dumps(second, ensure_ascii=False).count("low") == 1


def test_no_command_prints_numbers_that_nobody_measured(
    bevelbook: Callable[..., Any], shown: DemoResult, made: sqlite3.Connection, registry_once: Registry
) -> None:
    """All that prints records or results, for people; the working of a calculator shows its numbers apart."""
    builds = [row[0] for row in made.execute("SELECT label FROM builds ORDER BY id DESC LIMIT 3")]
    commands: list[list[str]] = [
        *([name] for name in ("check", "history", "calls", "calculators")),
        ["card", "--run-sheet"],
        ["card", builds[0]],
        *(["compare", *pair, "--all"] for pair in pairwise(builds)),
    ]
    for name in registry_once.calculators:
        one = registry_once.calculator(name).calculator
        options = {field.name: field.option for field in one.inputs}
        for worked in one.worked[:1]:
            given = [(key, text if isinstance(text, list) else [text]) for key, text in worked.given.items()]
            commands.append(["calc", name, *(f"{options[key]}={text}" for key, texts in given for text in texts)])
        commands.append(["calc", name, "--for", "rear-a"])
    answered = 0
    for words in commands:
        done = bevelbook("--db", shown.path, *words)
        assert NOISE.findall(done.out + done.err) == [], words
        answered += done.code != 2
    assert answered > len(commands) / 2
