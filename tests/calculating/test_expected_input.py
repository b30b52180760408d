"""The diff's temperature as an input where it was not measured. All runs are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest
from constructed import Add, Team

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.expected_input import EXPECTED_ORIGINS, expected_of_forecast, temperatures_of_builds
from bevelbook.calculating.hottest_input import hottest_of_builds
from bevelbook.calculating.kept_outputs import kept_outputs
from bevelbook.calculating.known import Subject, known_of
from bevelbook.calculating.named_origins import HOTTEST, IN_USE, IN_USE_HIGH, OF_FORECAST, OF_LAST_RUN
from bevelbook.plugin.calculator import Calculator
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of
from bevelbook_plugins.drag_heat import DRAG_HEAT
from bevelbook_plugins.fill_target import FILL_TARGET
from bevelbook_plugins.headspace import HEADSPACE
from bevelbook_plugins.oil_choice import OIL_CHOICE
from bevelbook_plugins.same_feel import SAME_FEEL

WEATHER = ((14, 17), (16, 26), (18, 21), (19, 33), (21, 24), (23, 37), (24, 29), (26, 41), (28, 34), (30, 46))


@pytest.fixture
def measured(connection: sqlite3.Connection, add: Add, team: Team) -> Iterator[str]:
    """Ten days with a measured rear diff, diff = 9 + 0.5 air + 0.4 track; the build that was in the car."""
    build = team.build(oil_mass_g=1.86, built_on="2026-04-01", viscosity_cst=7000.0)
    for place, (air, track) in enumerate(WEATHER):
        day = f"2026-05-{place + 1:02}"
        run = add("run", label=f"{day}/1", run_on=day, air_temp_c=air, track_temp_c=track)
        warm = round(9 + 0.5 * air + 0.4 * track)
        add("run_diff", run=run, build=build, position="rear", diff_temp_c=warm)
    yield build


@pytest.fixture
def unmeasured(connection: sqlite3.Connection, add: Add, team: Team, measured: str) -> str:
    """A later build of the same diff that ran once, at 22 and 30 °C, without a thermometer."""
    build = team.build(oil_mass_g=1.86, built_on="2026-06-01", viscosity_cst=7000.0)
    run = add("run", label="2026-06-02/1", run_on="2026-06-02", air_temp_c=22.0, track_temp_c=30.0)
    add("run_diff", run=run, build=build, position="rear")
    return build


def of(connection: sqlite3.Connection, calculator: Calculator, build: str, **texts: str) -> dict[str, tuple]:  # type: ignore[type-arg]
    return known_of(connection, calculator, [Subject(BY_NAME["build"], build, "b")], texts)


def test_where_the_diff_was_not_measured_it_is_expected_and_the_origin_says_so(
    connection: sqlite3.Connection, unmeasured: str
) -> None:
    """9 + 0.5 × 22 + 0.4 × 30 = 32.0."""
    found = temperatures_of_builds(connection, EXPECTED_ORIGINS, unmeasured)
    value, origin = found[OF_LAST_RUN][unmeasured].known
    assert value == pytest.approx(32.0, abs=0.5)
    assert origin.startswith("expected from 10 own days, 32 °C, ")
    assert origin.endswith(" °C fits, for air 22 °C and track 30 °C as in run 2026-06-02/1")
    assert found[IN_USE_HIGH][unmeasured][0] > found[IN_USE][unmeasured][0]


def test_never_where_it_was_measured(connection: sqlite3.Connection, measured: str) -> None:
    assert all(
        measured not in values for values in temperatures_of_builds(connection, EXPECTED_ORIGINS, measured).values()
    )


def test_a_build_that_did_not_run_takes_the_last_run_of_its_diff_but_not_what_it_felt_like(
    connection: sqlite3.Connection, team: Team, unmeasured: str
) -> None:
    fresh = team.build(oil_mass_g=1.86, built_on="2026-07-01")
    found = temperatures_of_builds(connection, EXPECTED_ORIGINS, fresh)
    assert found[IN_USE][fresh][0] == pytest.approx(32.0, abs=0.5)
    assert fresh not in found[OF_LAST_RUN]
    ran = label_of(connection, BY_NAME["build"], unmeasured)
    for _, origin in (of(connection, HEADSPACE, fresh)[one] for one in (IN_USE, IN_USE_HIGH)):
        assert origin.endswith(f"as in run 2026-06-02/1, build {ran}")
    _, own = of(connection, HEADSPACE, unmeasured)[IN_USE]
    assert own.endswith("as in run 2026-06-02/1, build b"), "the subject's own"


def test_a_build_after_a_measured_run_expects_nothing(
    connection: sqlite3.Connection, team: Team, measured: str
) -> None:
    fresh = team.build(oil_mass_g=1.86, built_on="2026-07-01")
    assert all(fresh not in values for values in temperatures_of_builds(connection, EXPECTED_ORIGINS, fresh).values())


def test_headspace_and_same_feel_take_it(connection: sqlite3.Connection, unmeasured: str) -> None:
    assert of(connection, HEADSPACE, unmeasured)[IN_USE][0] == pytest.approx(32.0, abs=0.5)
    known = of(connection, SAME_FEEL, unmeasured, air_now_c="28", track_now_c="34")
    assert known[OF_LAST_RUN][0] == pytest.approx(32.0, abs=0.5)
    assert known[OF_FORECAST][0] == pytest.approx(36.6, abs=0.5)
    assert "run_diffs.diff_temp_c" not in known


def test_a_diff_measured_hotter_than_is_assumed_is_judged_there(
    connection: sqlite3.Connection, add: Add, team: Team, measured: str
) -> None:
    """The ten days reach 42 °C (9 + 0.5 × 30 + 0.4 × 46 = 42.4)."""
    value, origin = of(connection, HEADSPACE, measured)[HOTTEST]
    hottest = f"the hottest measured is 42 °C, {label_of(connection, BY_NAME['build'], measured)} in run 2026-05-10/1"
    assert (value, origin) == (60.0, f"assumed; {hottest}")
    race = add("run", label="2026-06-05/2", run_on="2026-06-05")
    add("run_diff", run=race, build=measured, position="rear", diff_temp_c=64.0, second_diff_temp_c=67.0)
    for calculator in (HEADSPACE, FILL_TARGET):
        value, origin = of(connection, calculator, team.build(built_on="2026-07-01"))[HOTTEST]
        ran = label_of(connection, BY_NAME["build"], measured)
        assert (value, origin) == (67.0, f"the hottest measured, {ran} in run 2026-06-05/2")
    assert hottest_of_builds(connection)[measured].value == 67.0


def test_a_diff_that_was_never_measured_takes_the_hottest_of_its_place(
    connection: sqlite3.Connection, add: Add, measured: str
) -> None:
    race = add("run", label="2026-06-05/2", run_on="2026-06-05")
    add("run_diff", run=race, build=measured, position="rear", diff_temp_c=64.0)
    at = {
        place: add("build", diff=add("diff", label=f"new-{place}", usual_position=place), label=f"new-{place}/1",
                   built_on="2026-07-01")
        for place in ("front", "rear")
    }  # fmt: skip
    found = hottest_of_builds(connection)
    assert found[at["rear"]].value == 64.0
    assert at["front"] not in found


def test_a_run_without_a_reading_expects_it_of_its_own_air_and_track(
    connection: sqlite3.Connection, unmeasured: str
) -> None:
    """Then and now are both of the diff at the rear: 9 + 0.5 × 22 + 0.4 × 30 = 32.0 and 9 + 0.5 × 28 + 0.4 × 34 = 36.6;
    7000 × exp(1757.1 × (1/305.15 - 1/309.75)) = 7625, by hand."""
    (row_id,) = connection.execute("SELECT id FROM run_diffs WHERE build = ?", (unmeasured,)).fetchone()
    subject = Subject(BY_NAME["run_diff"], row_id, "2026-06-02/1 rear")
    texts = {"air_now_c": "28", "track_now_c": "34"}
    known = known_of(connection, SAME_FEEL, [subject], texts)
    assert known[OF_LAST_RUN][0] == pytest.approx(32.0, abs=0.5)
    answer = run(SAME_FEEL, bind(SAME_FEEL, texts, known))
    assert answer.found.viscosity_needed_cst == pytest.approx(7625, rel=0.02)
    assert "did in run 2026-06-02/1, both of the diff" in " ".join(answer.judgement.reasons)
    (hot,) = connection.execute("SELECT x.id FROM run_diffs x WHERE x.diff_temp_c IS NOT NULL LIMIT 1").fetchone()
    assert OF_LAST_RUN not in known_of(connection, SAME_FEEL, [Subject(BY_NAME["run_diff"], hot, "hot")], texts)


def test_the_temperatures_of_a_build_are_all_of_one_run(
    connection: sqlite3.Connection, add: Add, unmeasured: str
) -> None:
    """A hotter run before, measured at 50 °C, is not mixed with the air and track of the last one; same-feel and
    headspace expect the same of it."""
    before = add("run", label="2026-06-01/1", run_on="2026-06-01", air_temp_c=33.0, track_temp_c=45.0)
    add("run_diff", run=before, build=unmeasured, position="rear", diff_temp_c=50.0)
    known = of(connection, SAME_FEEL, unmeasured)
    assert (known["runs.air_temp_c"][0], known["runs.track_temp_c"][0]) == (22.0, 30.0)
    assert known["runs.label"][0] == "2026-06-02/1"
    assert "run_diffs.diff_temp_c" not in known
    assert known[OF_LAST_RUN][0] == of(connection, HEADSPACE, unmeasured)[IN_USE][0] == pytest.approx(32.0, abs=0.5)


def test_where_nothing_can_be_expected_they_are_those_of_the_last_measured_run(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86, viscosity_cst=7000.0)
    for day, air, diff in (("2026-06-01", 33.0, 50.0), ("2026-06-02", 22.0, None)):
        row = add("run", label=f"{day}/1", run_on=day, air_temp_c=air)
        add("run_diff", run=row, build=build, diff_temp_c=diff)
    known = of(connection, SAME_FEEL, build)
    assert (known["run_diffs.diff_temp_c"][0], known["runs.air_temp_c"][0]) == (50.0, 33.0)
    assert known["runs.label"][0] == "2026-06-01/1"
    typed = {"temperature_now_c": "35"}
    answer = run(SAME_FEEL, bind(SAME_FEEL, typed, known))
    assert "at 50 °C did in run 2026-06-01/1, both of the diff" in " ".join(answer.judgement.reasons)


def test_oil_choice_expects_of_the_track_alone_and_not_of_a_diff(
    connection: sqlite3.Connection, unmeasured: str
) -> None:
    track = expected_of_forecast(connection, OIL_CHOICE, {"temperature_c": "30", "position": "rear"})
    both = expected_of_forecast(connection, OIL_CHOICE, {"temperature_c": "30", "air_temperature_c": "22 °C"})
    assert track[OF_FORECAST][1].startswith("expected from 10 own days")
    assert both[OF_FORECAST][0] == pytest.approx(32.0, abs=0.5)
    assert expected_of_forecast(connection, OIL_CHOICE, {"temperature_c": "30", "temperature_of": "diff"}) == {}
    assert expected_of_forecast(connection, OIL_CHOICE, {"temperature_c": "30", "position": "front"}) == {}
    assert expected_of_forecast(connection, OIL_CHOICE, {"temperature_c": "95"}) == {}
    assert expected_of_forecast(connection, OIL_CHOICE, {"temperature_c": "warm"}) == {}
    assert expected_of_forecast(connection, OIL_CHOICE, {}) == {}


def test_what_was_kept_of_another_calculation_is_an_input(connection: sqlite3.Connection, measured: str) -> None:
    connection.execute(
        "INSERT INTO calculations (id, calculator, version, subject_table, subject_id, given, found, origins, verdict, "
        "reasons, package, package_version, calculated_at) VALUES ('c1', 'bench-drag', 1, 'builds', ?, '{}', "
        "'{\"damping_nm_s\": 0.0051}', '{}', 'ok', '[]', 'bevelbook', '0.1.0', '2026-05-03T10:00:00Z')",
        (measured,),
    )
    assert kept_outputs(connection, "damping_nm_s", measured)[measured].value == 0.0051
    value, origin = of(connection, DRAG_HEAT, measured)["results.damping_nm_s"]
    assert (value, origin) == (0.0051, "bench-drag kept on 2026-05-03, build b")
    assert kept_outputs(connection, "friction_nm", measured) == {}


def test_what_is_too_wide_to_choose_an_oil_by_is_not_taken(
    connection: sqlite3.Connection, add: Add, unmeasured: str
) -> None:
    """Two runs a day 24 °C apart."""
    for place, (air, track) in enumerate(WEATHER):
        run = add(
            "run",
            label=f"2026-05-{place + 1:02}/2",
            run_on=f"2026-05-{place + 1:02}",
            air_temp_c=air,
            track_temp_c=track,
        )
        (build,) = connection.execute("SELECT build FROM run_diffs LIMIT 1").fetchone()
        add("run_diff", run=run, build=build, position="rear", diff_temp_c=round(33 + 0.5 * air + 0.4 * track))
    assert all(not values for values in temperatures_of_builds(connection, EXPECTED_ORIGINS, unmeasured).values())
