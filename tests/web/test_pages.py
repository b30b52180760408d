"""Our own pages, asked in process: what they show, what they find, what they refuse, and that they write nothing."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest
from browser_team import HOSTILE, Site, Team, close, content_of, make_team, site_over
from noise import NOISE

from bevelbook.calculating.calculate import bind, run
from bevelbook.display.format import format_number
from bevelbook.plugin.registry import Registry, load
from bevelbook.records import BY_NAME
from bevelbook.reference import RULES_FIRST
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.pages.worked import NearestRun, Wanted, count_words, nearest

OFFERED = sorted(load().calculators)


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("pages") / "team.db")


@pytest.fixture(scope="module")
def site(team: Team, registry: Registry) -> Iterator[Site]:
    with site_over(team.path, registry) as made:
        yield made


def words_of(page: str) -> str:
    """The words between the tags, on one line."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page)).split())


SHOWN_AS_TYPED = re.compile(r"(?s)<(script|style|svg|textarea|pre|details)\b.*?</\1>|<[^>]*\b(?:value|href)=[^>]*>")


def calculator_page(site: Site, name: str, *, status: int = 200, **given: object) -> str:
    return site.page(f"/team/-/calc/{name}?{urlencode(given, doseq=True)}", status=status)


def all_pages(team: Team, registry: Registry) -> list[str]:
    ids = team.ids
    return [
        "/",
        *(f"/team/-/{page}" for page in ("", "home", "worked", "search", "look", "calls", "calculators", "charts")),
        *(f"/team/-/help{topic}" for topic in ("", "/units", "/errors", "/calculators/headspace", "/tables/builds")),
        "/team/-/worked?grip=low&track=36",
        "/team/-/compare",
        "/team/-/compare?a=rear-a/1&b=rear-a/2",
        "/team/-/search?q=long+DROP",
        f"/team/-/diff/{ids['rear-a']}",
        f"/team/-/build/{ids['rear-a/2']}",
        f"/team/-/card/{ids['rear-a/2']}",
        *(f"/team/-/sheet{given}" for given in ("", "?fields=all")),
        f"/team/-/fluid/{ids['evil fluid']}",
        f"/team/-/venue/{ids['field']}",
        f"/team/-/run/{ids['run 2']}",
        "/team/-/day/2026-03-11",
        *(f"/team/-/chart/{chart.name}" for chart in registry.charts()),
        *(f"/team/-/calc/{name}?for=rear-a/2" for name in registry.calculators),
    ]


def test_every_page_answers_escapes_notes_and_leaves_the_file_alone(site: Site, team: Team, registry: Registry) -> None:
    before = content_of(team.path)
    for path in all_pages(team, registry):
        page = site.page(path)
        assert "<script>document" not in page, path
        assert "<img src=x" not in page, path
        assert "<b>bold" not in page, path
        assert str(team.path.parent) not in page, path
        assert not re.search(r"<script(?![^>]*(src=|application/json))[^>]*>", page), path
        assert '<html lang="en">' in page, path
        assert NOISE.findall(words_of(SHOWN_AS_TYPED.sub(" ", page))) == [], path
    assert content_of(team.path) == before


def test_pages_work_where_sql_of_visitors_is_switched_off(team: Team, registry: Registry) -> None:
    with site_over(team.path, registry, allow_sql=False) as closed:
        for path in all_pages(team, registry):
            closed.page(path)


def test_the_only_database_opens_on_its_shelf(site: Site) -> None:
    words = words_of(site.page("/"))
    shelf, _, rest = words.partition("At the track")
    assert "rear-a" in shelf
    assert "not weighed since the fill" in shelf
    assert "Tannery Hall" in rest
    assert site.page("/") == site.page("/team/-/home")
    assert 'aria-current="page">Shelf' in site.page("/")
    listed = site.get("/.json").json()
    assert [one["name"] for one in listed.get("databases", listed.values())] == ["team"]


def test_two_databases_open_on_their_list(team: Team, tmp_path_factory: pytest.TempPathFactory) -> None:
    from datasette.app import Datasette

    other = make_team(tmp_path_factory.mktemp("second") / "second.db")
    datasette = Datasette([str(team.path), str(other.path)])
    try:
        both = Site(datasette)
        page = both.page("/")
        assert 'href="/team"' in page
        assert 'href="/second"' in page
        assert "Shelf" in words_of(both.page("/second/-/home"))
    finally:
        close(datasette)


def to_do_of(site: Site) -> str:
    """What the first page names as to be done before the next time out."""
    return words_of(site.page("/")).partition("Before the next time out")[2].partition("At the track")[0]


def test_home_of_a_team_with_a_sound_diff_has_nothing_to_name(db: Path, registry: Registry) -> None:
    connection = open_for_writing(db)
    with transaction(connection, db):
        writer = Writer(connection, "ana")
        diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
        masses = {"oil_mass_g": 1.86, "closed_mass_g": 22.4}
        build = writer.insert(BY_NAME["build"], {"label": "rear-a/1", "diff": diff, "built_on": "2026-04-03", **masses})
        weighed = {"build": build, "mass_g": 22.39, "mass_basis": "closed", "runs": 4.0}
        writer.insert(BY_NAME["weighing"], weighed)
    connection.close()
    with site_over(db, registry) as sound:
        assert to_do_of(sound).startswith(" Nothing to do. All that the checks find")


def test_home_names_what_to_do(site: Site, tmp_path: Path, registry: Registry) -> None:
    assert to_do_of(site).startswith(" Weigh front-a (how much oil is in it is not known)")
    past = "About the past: 1 build lost oil rear-b/1 : lost 0.35 g of 1.86 g (19 %) in 6 runs; opened 2026-04-02"
    assert past in words_of(site.page("/"))
    worse = make_team(tmp_path / "worse.db")
    connection = open_for_writing(worse.path)
    with transaction(connection, worse.path):
        writer = Writer(connection, "ana")
        writer.insert(
            BY_NAME["weighing"],
            {"build": worse.ids["rear-b/2"], "mass_g": 22.2, "mass_basis": "closed", "runs": 9.0},
        )
        run = writer.insert(
            BY_NAME["run"],
            {"label": "last", "run_on": "2026-05-01", "venue": worse.ids["field"], "runs": 7.0},
        )
        writer.insert(BY_NAME["run_diff"], {"run": run, "build": worse.ids["rear-a/2"], "position": "rear"})
        writer.insert(BY_NAME["limit"], {"kind": "runs between openings", "value": 8.0})
    connection.close()
    with site_over(worse.path, registry) as other:
        to_do = to_do_of(other)
    assert "Change the oil in rear-b (9 runs since it was filled, 1 over your limit of 8" in to_do
    assert "Change the oil in rear-a (13 runs since it was filled, 5 over your limit of 8)" in to_do
    assert "Weigh rear-a" not in to_do, "it is opened"
    assert "Try: Try 15,000 in the rear on dust (at Brickfield)" in to_do


def test_a_diff_shows_builds_openings_masses_and_runs(site: Site, team: Team) -> None:
    words = words_of(site.page(f"/team/-/diff/{team.ids['rear-b']}"))
    for part in (
        "rear-b/1",
        "rear-b/2",
        "grooved shaft, new rings",
        "routine",
        "grey",
        "Dark oil is not thick oil",
        "Mass lost by rear-b",
        "22.05",
    ):
        assert part in words
    assert "0.35" in words, "22.40 g closed, 22.05 g weighed"


def test_the_large_number_is_that_of_the_scale_as_it_was_zeroed(site: Site) -> None:
    page = calculator_page(site, "fill-target", dry_mass_g="12.4", oil_mass_g="1.35", reading_g="1.2")
    assert "Stop pouring when the zeroed scale shows this" in page
    assert "13.75" not in page.partition("How this was worked out")[0]


@pytest.mark.parametrize(
    ("given", "verdict", "big"),
    [
        ("fill_fraction=0.85", "ok", None),
        ("squeeze_out=runs+out", "stop", None),
        ("squeeze_out=none", "unclear", None),
        ("oil_mass_g=1.86&free_volume_cm3=2.258&viscosity_cst=7000", "ok", "1.9"),
    ],
)
def test_an_answer_in_words_alone_has_no_figure_that_says_unclear(
    site: Site, given: str, verdict: str, big: str | None
) -> None:
    page = site.page(f"/team/-/calc/headspace?{given}")
    figures = re.findall(r'<p class="answer"><span class="big(?:-words)?">([^<]*)<', page)
    assert verdict in words_of(page)
    assert figures == [] if big is None else figures[0].startswith(big)


def test_things_are_found_by_label_as_well_as_by_id(site: Site, team: Team) -> None:
    assert site.page("/team/-/diff/rear-a") == site.page(f"/team/-/diff/{team.ids['rear-a']}")
    assert "rear-a/2" in site.page("/team/-/build/rear-a~2F2")
    missing = site.get("/team/-/diff/rear-x")
    assert missing.status_code == 404
    assert "Did you mean rear-a or rear-b?" in html.unescape(missing.text) or "Did you mean" in missing.text
    assert "bevelbook record" not in missing.text
    for path in ("/team/-/nothing", "/team/-/calc/fil-target", "/team/-/chart/nothing", "/nothing/-/home"):
        assert site.get(path).status_code == 404, path


@pytest.mark.parametrize(
    ("address", "status"),
    [
        ("/team/-/compare?a=rear-a/1&b=rear-a/9", 400),
        ("/team/-/calc/fill-target?for=rear-a/9", 400),
        ("/team/-/worked?venue=Brickfeld", 400),
        ("/team/-/build/rear-a~2F9", 404),
        ("/team/-/diff/rear-x", 404),
        ("/team/-/card/rear-a~2F9", 404),
        ("/team/-/calc/fil-target", 404),
        ("/team/-/help/unit", 404),
    ],
)
def test_a_page_meets_an_unknown_name_with_near_ones_and_no_command(site: Site, address: str, status: int) -> None:
    answer = site.get(address)
    assert answer.status_code == status
    text = html.unescape(answer.text)
    said = re.search(r"There is no [a-z ]+ named \"[^<]*", text)
    assert said is not None
    assert "Did you mean" in said[0]
    assert "'bevelbook" not in said[0]


def test_the_calculator_of_weighings_is_offered_for_a_build_that_was_weighed(site: Site, team: Team) -> None:
    weighed, never = (site.page(f"/team/-/build/{team.ids[one]}") for one in ("rear-b/1", "front-a/1"))
    assert "/team/-/calc/leak-trend?for=build%3Arear-b%2F1" in weighed
    assert "/team/-/calc/leak-trend" not in never
    assert "/team/-/calc/fill-target" in never


def test_a_build_shows_what_changed_since_the_one_before(site: Site, team: Team) -> None:
    words = words_of(site.page(f"/team/-/build/{team.ids['rear-b/2']}"))
    assert "What changed since rear-b/1" in words
    assert "10,000" in words
    assert "own measurement" in words
    first = words_of(site.page(f"/team/-/build/{team.ids['rear-b/1']}"))
    assert "What changed since" not in first


def test_two_builds_are_side_by_side_on_a_page(site: Site) -> None:
    assert 'href="/team/-/compare"' in site.page("/")
    words = words_of(site.page("/team/-/compare?a=rear-a/1&b=rear-b/2"))
    assert "Dry, filled mass 12.40 g, 14.26 g 12.38 g, 14.24 g" in words
    assert words.index("What was changed") < words.index("What came of it") < words.index("Run in turn")
    assert "Nothing to compare: no day on which one driver had both" in words
    fault = words_of(site.page("/team/-/compare?a=rear-a/9&b=rear-b/2", status=400))
    assert 'There is no build named "rear-a/9".' in fault
    assert "What differs" not in fault
    assert "Name two builds." in site.page("/team/-/compare?a=rear-a/1")
    assert "That is one build" in site.page("/team/-/compare?a=rear-a/1&b=rear-a/1")


def raced_in_turn(folder: Path, times: tuple[float, ...]) -> Path:
    """Two builds run a b b a by one driver: constructed."""
    raced = make_team(folder / "raced.db")
    connection = open_for_writing(raced.path)
    with transaction(connection, raced.path):
        writer = Writer(connection, "ana")
        builds = ("rear-a/1", "rear-a/2", "rear-a/2", "rear-a/1") * 2
        for order, (label, time) in enumerate(zip(builds, times, strict=False), start=1):
            run = writer.insert(
                BY_NAME["run"],
                {"label": f"t {order}", "run_on": "2026-04-20", "day_order": order, "best_five_s": time},
            )
            writer.insert(BY_NAME["run_diff"], {"run": run, "build": raced.ids[label], "position": "rear"})
    connection.close()
    return raced.path


def test_a_time_far_off_is_asked_about_on_the_page_and_each_answer_is_a_link(
    tmp_path: Path, registry: Registry
) -> None:
    path = raced_in_turn(tmp_path, (15.90, 15.70, 15.72, 15.92, 15.91, 15.71, 15.70, 19.9))
    with site_over(path, registry) as other:
        page = other.page("/raced/-/compare?a=rear-a/1&b=rear-a/2")
        links = re.findall(r'href="([^"]*odd_times=[^"]*)"', page)
        counted, left_out = (words_of(other.page(link.replace("&amp;", "&"))) for link in links)
    assert "19.900 s of rear-a/1 (7,000, 6,150 cSt) (run 8 of 2026-04-20)" in words_of(page)
    assert "It was timed right: count it" in words_of(page)
    assert "would decide it, if it stays like this" in counted
    assert "faster than rear-a/1 (7,000, 6,150 cSt) by 0.20" in left_out


def test_runs_in_turn_are_compared_on_the_page_and_lead_to_their_working(tmp_path: Path, registry: Registry) -> None:
    """Two builds run a b b a by one driver, 15.90 15.92 against 15.70 15.72 s: constructed."""
    path = raced_in_turn(tmp_path, (15.90, 15.70, 15.72, 15.92))
    with site_over(path, registry) as other:
        page = other.page("/raced/-/compare?a=rear-a/1&b=rear-a/2")
        words = words_of(page)
        link = re.search(r'href="([^"]*/calc/run-comparison[^"]*)"', page)
        assert link
        working = words_of(other.page(link[1].replace("&amp;", "&")))
    assert "faster than rear-a/1 (7,000, 6,150 cSt) by 0.200 s a lap" in words
    assert "4 runs, mean of the best five laps: 2026-04-20" in words
    assert "anything else changed between the two" in words
    assert "b − a = -0.2000 s" in working


def test_a_fluid_names_the_source_of_its_viscosity_and_its_bottles(site: Site, team: Team) -> None:
    words = words_of(site.page(f"/team/-/fluid/{team.ids['seven']}"))
    assert "7,000 cSt at 25 °C (its label)" in words
    assert "6,150" in words
    assert "150" in words
    evil = words_of(site.page(f"/team/-/fluid/{team.ids['evil fluid']}"))
    assert "the label alone says nothing in cSt" in evil


def test_the_page_of_a_thick_oil_says_that_it_thins_when_the_diff_turns_fast(site: Site, team: Team) -> None:
    words = words_of(site.page(f"/team/-/fluid/{team.ids['thick']}"))
    assert "Oil this thick thins when the diff turns fast" in words
    assert "500,000 like 180,000" in words
    assert "Oil this thick" not in words_of(site.page(f"/team/-/fluid/{team.ids['seven']}"))


def test_a_venue_leads_from_grip_and_temperature_to_its_runs(site: Site, team: Team) -> None:
    page = site.page(f"/team/-/venue/{team.ids['field']}")
    words = words_of(page)
    not_counted = "(not counted for an oil: 2 on a diff that lost oil) "
    assert (
        "low grip, track above 35 °C 4 notes, 12 runs: kept on 1 of 2 days, changed on 1 "
        f"{not_counted}rear 7,000 to 10,000 cSt" in words.replace("6,150", "7,000")
    )
    link = re.search(r'href="([^"]*worked[^"]*grip=low[^"]*)"', page)
    assert link
    found = words_of(site.page(html.unescape(link[1])))
    assert "What was run at Brickfield, in low grip, above 35 °C on the track" in found
    assert "4 notes, 12 runs: kept on 1 of 2 days, changed on 1." in found
    for track in ("38.0", "36.5", "41.0", "37.0"):
        assert track in found
    assert "20.0" not in found


def test_the_oils_come_first_then_the_nearest_runs_with_how_near_they_are(site: Site) -> None:
    page = site.page("/team/-/worked?grip=low&track=37")
    words = words_of(page)
    assert "What was run near low grip, near 37 °C on the track" in words
    assert "8 notes, 24 runs: kept on 3 of 5 days, changed on 1, both on 1." in words
    oils, _, runs = words.partition("Runs, the nearest first")
    kept = "kept on 3 of 4 days, changed on 1"
    assert f"10,000 cSt, rear {kept} as asked, 12 Apr 2026 , keep, “steady, <b>bold</b> exit”" in oils
    assert "6 runs of rear-b/1 left out: it lost 19 % of its oil" in runs
    assert re.search(r"10,000 cSt, rear keep “steady.{0,30} as asked: low grip, track 37.0 °C", runs)
    assert "1 °C away: low grip, track 36.5 °C" in runs
    assert "two steps of grip and 16 °C away" in runs
    assert words.index("Other conditions") < words.index("Runs, the nearest first")
    assert "3 runs of rear-b/1 left out" in words_of(site.page("/team/-/worked?track_from=40"))
    assert "What these runs suggest" in words
    for gone in ("Distance", "Axis", "Prior runs"):
        assert gone not in words
    assert 'class="wide"' not in page


def test_what_is_counted_are_the_runs_and_their_days() -> None:
    both = [("a", "front", "keep"), ("a", "rear", "keep"), ("b", "rear", "change")]
    of_day = {"run_on": "2026-03-01", "fluid": None, "viscosity_cst": 7000.0, "runs": None, "fill_state": "full"}
    near = [NearestRun({**of_day, "run": run, "diff": diff, "call": call}, None) for run, diff, call in both]
    assert count_words(near) == "2 runs: kept and changed on 1 day (1 keep, 1 change)."
    assert count_words(near[1:]) == "2 runs: kept and changed on 1 day (1 keep, 1 change)."
    assert count_words(near[:2]) == "1 run: kept on 1 day."
    assert count_words([]) == "No run is known in these conditions."


def test_distance_is_one_for_a_step_of_grip_or_five_degrees() -> None:
    """Constructed: the measure is our own figure, a step of grip counts as much as 5 °C."""
    rows = [
        {"run": "a", "grip": "low", "track_temp_c": 41.0},
        {"run": "b", "grip": "medium", "track_temp_c": 36.0},
        {"run": "c", "grip": "low", "track_temp_c": 36.0},
        {"run": "d", "grip": None, "track_temp_c": 36.0},
        {"run": "e", "grip": "high", "track_temp_c": None},
    ]
    wanted = Wanted(None, "", "low", None, 36.0, None, None)
    found = nearest(wanted, rows)
    assert [(one.row["run"], round(one.distance or 0.0, 6)) for one in found] == [("c", 0.0), ("a", 1.0), ("b", 1.0)]
    newest = nearest(wanted._replace(track_c=None), rows)
    assert newest == [NearestRun(row, None) for row in rows]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"track": "abc"}, "number"),
        ({"track": "400"}, "100"),
        ({"grip": "grippy"}, "low, medium, high"),
        ({"venue": "Brikfield"}, "Brickfield"),
    ],
)
def test_a_condition_that_cannot_be_read_says_so_beside_it(site: Site, given: dict[str, str], message: str) -> None:
    page = site.page(f"/team/-/worked?{urlencode(given)}", status=400)
    fault = re.search(r'class="fault"[^>]*>([^<]*)<', page)
    assert fault
    assert message in html.unescape(fault[1])


def test_temperatures_take_their_unit(site: Site) -> None:
    assert "near 36 °C" in words_of(site.page("/team/-/worked?track=96.8+%C2%B0F"))


@pytest.mark.parametrize("name", OFFERED)
def test_every_calculator_computes_its_worked_example_on_its_page(site: Site, registry: Registry, name: str) -> None:
    one = registry.calculator(name).calculator
    worked = one.worked[0]
    result = run(one, bind(one, worked.given))
    given = {key: "\n".join(text) if isinstance(text, list) else text for key, text in worked.given.items()}
    page = calculator_page(site, name, **given)
    words = words_of(page)
    assert one.question in words
    assert result.verdict in words
    answer = next(field for field in one.outputs if field.name == one.answer)
    value = getattr(result.found, one.answer)
    if isinstance(value, (int, float)):
        assert format_number(value, answer) in words
    for text in (*one.valid, *(source.cite() for source in one.sources), *one.cautions, *result.working()):
        assert " ".join(text.split()) in words
    assert ("Cautions" in words) is bool(one.cautions)
    assert words.count(RULES_FIRST) == bool(one.cautions)
    assert f"calc {name}" in words
    assert "--keep" in words


def test_units_and_uncertainty_are_taken_as_on_the_command_line(site: Site) -> None:
    words = words_of(calculator_page(site, "fill-target", dry_mass_g="12400 mg", oil_mass_g="1,86 g"))
    assert "14.26 g Stop pouring" in words
    words = words_of(calculator_page(site, "fill-target", dry_mass_g="12.40 +/- 0.01 g", oil_mass_g="1.86 g"))
    assert "14.260 ± 0.031 g (k = 2) Stop pouring" in words
    assert "dry mass 12.4 ± 0.01 g taken as k = 2, as printed here (given)" in words
    words = words_of(calculator_page(site, "fill-target", dry_mass_g="12.40 +/- 0.01 g (k = 1)", oil_mass_g="1.86 g"))
    assert "14.260 ± 0.036 g (k = 2) Stop pouring" in words
    assert "dry mass 12.4 ± 0.02 g (k = 2) (given)" in words


def test_fill_from_takes_what_is_left_empty_from_the_build(site: Site) -> None:
    words = words_of(calculator_page(site, "fill-target", **{"for": "rear-a/2"}))
    assert "14.28 g Stop pouring" in words, "12.42 g dry and 1.86 g of oil"
    assert "dry mass 12.42 g (build rear-a/2)" in words
    assert "--for build:rear-a/2 --keep" in words
    words = words_of(calculator_page(site, "fill-target", dry_mass_g="12.50", **{"for": "rear-a/2"}))
    assert "14.36 g Stop pouring" in words
    words = words_of(calculator_page(site, "leak-trend", **{"for": "rear-b/1"}))
    assert "0.35" in words


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"dry_mass_g": "abc", "oil_mass_g": "1.86"}, "number"),
        ({"dry_mass_g": "12.4 kilo", "oil_mass_g": "1.86"}, "unit"),
        ({"dry_mass_g": "-12.4", "oil_mass_g": "1.86"}, "-12.4 is too low"),
        ({"for": "rear-x"}, "there is no build named"),
        ({"dry_mass_g": "<script>alert(1)</script>"}, "&lt;script&gt;"),
    ],
)
def test_bad_input_is_explained_in_the_form_and_computes_nothing(
    site: Site, given: dict[str, str], message: str
) -> None:
    page = calculator_page(site, "fill-target", status=400, **given)
    assert 'class="result"' not in page
    assert "<script>alert" not in page
    assert message.lower() in page.lower()
    assert 'role="alert"' in page, "the top of the form says so, wherever the input is"


@pytest.mark.parametrize(
    ("name", "given", "words"),
    [
        ("fill-target", {}, ""),
        ("fill-target", {"dry_mass_g": "12.4"}, "Still needed: oil mass or free volume."),
        ("fill-target", {"oil_mass_g": "1.86"}, "Still needed: dry mass."),
        ("same-feel", {"for": "rear-a/2"}, "Still needed: "),
    ],
)
def test_an_empty_input_is_asked_for_and_not_found_fault_with(
    site: Site, name: str, given: dict[str, str], words: str
) -> None:
    page = calculator_page(site, name, **given)
    assert 'role="alert"' not in page
    assert 'class="fault"' not in page
    assert words in words_of(page)
    assert ("Still needed" in words_of(page)) is bool(words)


@pytest.mark.parametrize("name", OFFERED)
def test_an_untouched_form_complains_of_nothing(site: Site, name: str) -> None:
    page = site.page(f"/team/-/calc/{name}")
    assert 'role="alert"' not in page
    assert 'class="fault"' not in page
    assert "Still needed" not in page


def test_search_finds_notes_names_and_calculators(site: Site, team: Team) -> None:
    page = site.page("/team/-/search?q=quin")
    assert "<mark>quince</mark>" in page
    assert f"/team/-/build/{team.ids['rear-b/2']}" in page
    runs = site.page("/team/-/search?q=steady")
    assert re.search(r"7,000 \(6,150 cSt\), rear<.*?“<mark>steady</mark>.*?/team/-/run/", runs, re.DOTALL)
    words = words_of(site.page("/team/-/search?q=pouring"))
    assert "Fill target" in words
    assert "Nothing has all of these words" in site.page("/team/-/search?q=zzzz")
    for odd in ('"', "* OR NEAR(", "a AND", "-x", "é", "'; DROP TABLE builds; --"):
        assert site.get("/team/-/search", params={"q": odd}).status_code == 200, odd
    assert site.get("/team/-/search", params={"q": "\x00"}).status_code == 400


def test_the_checks_of_plugins_can_ask_a_served_database(site: Site, registry: Registry) -> None:
    site.page("/team/-/look")
    assert [str(one) for one in registry.failures if one.reason.startswith("bevelbook_checks")] == []


def test_a_chart_is_drawn_for_a_phone_and_for_larger_screens_without_a_script(site: Site, team: Team) -> None:
    page = site.page("/team/-/chart/viscosity-temperature")
    assert "<script" not in page.partition("<main")[2]
    pictures = re.findall(r"<svg .*?</svg>", page, re.DOTALL)
    drawn = [one for one in pictures if 'class="drawing"' in one]
    assert len(drawn) == 2
    for one in drawn:
        assert all(f">{fluid}</text>" in one for fluid in ("7,000", "10,000", "500,000"))
        assert "viscosity [cSt]" in one


def test_the_base_address_is_kept_in_front(team: Team, registry: Registry) -> None:
    from datasette.app import Datasette

    datasette = Datasette([str(team.path)], settings={"base_url": "/workshop/"})
    try:
        behind = Site(datasette)
        page = behind.page("/team/-/home")
        assert 'href="/workshop/team/-/worked"' in page
        assert 'href="/team/' not in page
        assert 'href="/workshop/team/-/search' in page or 'action="/workshop/team/-/search' in page
    finally:
        close(datasette)


def test_the_hostile_note_is_whole_on_the_page_of_its_record(site: Site, team: Team) -> None:
    assert words_of(site.page(f"/team/-/venue/{team.ids['field']}")).count("long") >= HOSTILE.count("long")
