"""A calculator that somebody drops into a folder is everywhere at once: command and page, batch and ±, card, bench and
build, kept after each way of writing, search, export and meeting, with its chart, its check and its table."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing
from html import unescape
from pathlib import Path

import pytest
from browser_team import make_team
from conftest import Outcome
from dropped_plugin import NAME, TITLE, drop_plugin, forget_units
from entered import EnteredSite, entered_site
from web.entry.conftest import words

from bevelbook.plugin.registry import Registry, load
from bevelbook.records import BY_NAME
from bevelbook.reports.questions import calculations_for
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.shared.kept_results import shown_calculations
from bevelbook.web.shared.links import Linker

Run = Callable[..., Outcome]
OF_A_DIFF = "Spread of the screws"
SAID = "4 pushes, the last one of 0.36 g"
NOTES = "date,diff,dry_mass_g,oil_mass_g\n2026-05-01,rear-c,9.50,1.10\n"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return drop_plugin(tmp_path_factory.mktemp("dropped"))


@pytest.fixture(scope="module")
def loaded(folder: Path) -> Iterator[Registry]:
    registry = load(folder=folder)
    yield registry
    forget_units(registry)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, loaded: Registry) -> Iterator[EnteredSite]:
    held = tmp_path_factory.mktemp("site")
    with entered_site(make_team(held / "team.db", "short"), loaded, held / "settings") as site:
        for _ in range(10):  # its process may still be starting, for which nobody waits who stores something
            if f"ok Pushes: {SAID}" in words(site.page("/team/-/card/rear-a~2F2")):
                break
        yield site


@pytest.fixture
def team(bevelbook: Run, folder: Path, tmp_path: Path, loaded: Registry) -> Run:
    """Commands of a laptop that has the plugin, on a copy of the team's database."""
    path = make_team(tmp_path / "team.db", "short").path
    return lambda *said: bevelbook("--db", path, "--by", "ana", "--plugins", folder, *said)


@pytest.fixture
def without(bevelbook: Run, tmp_path: Path) -> Run:
    """Commands of the same laptop once the plugin is gone."""
    return lambda *said: bevelbook("--db", tmp_path / "team.db", "--by", "ana", *said)


def test_it_is_a_command_with_help_uncertainty_and_a_batch(team: Run) -> None:
    assert f"{NAME} " in team("calculators").out
    assert "--push" in team("calc", NAME, "--help").out
    typed = ("--oil-mass", "1.86 +/- 0.02 g", "--dry-mass", "12.4", "--pace", "8 push/min")
    done = team("calc", NAME, *typed, "--explain")
    assert done.code == 0 and SAID in done.out and "0.360 ± 0.020 g (k = 2)" in done.out
    assert "time       30" in done.out
    assert TITLE in team("help", NAME).out
    batch = team("calc", NAME, "--all", "build", "--json").json
    assert (batch["computed"], batch["new"]) == (4, 4)


def test_it_is_kept_after_a_command_and_an_import_with_its_rows_in_its_own_view(team: Run, tmp_path: Path) -> None:
    stored = team("record", "build", "front-a", "dry_mass=12.0", "oil_mass=1.2")
    assert f"{NAME} of front-a/1: ok: 3 pushes, the last one of 0.20 g" in stored.out
    (tmp_path / "notes.csv").write_text(NOTES, encoding="utf-8")
    assert f"Worked out and kept: {NAME} for 1 (1 ok)" in team("import", "notes.csv", "--yes").out
    rows = team("export", "--table", f"calc_{NAME}_rows", "--csv", "-").out.splitlines()
    assert len(rows) == 1 + 3 + 3


def test_it_is_on_the_card_in_a_place_of_its_own_and_at_a_step_that_names_it(
    team: Run, without: Run, tmp_path: Path
) -> None:
    card = team("card", "rear-a/2")
    assert f"{TITLE.upper()}\n  Last push  0.36 g\n  Pushes: ok: {SAID}" in card.out
    steps = 'title: "Ours"\nsteps: [{key: "fill", title: "Fill", do: "Pour.", calculators: ["pushes"]}]'
    (tmp_path / "ours.yaml").write_text(steps, encoding="utf-8")
    assert f"-> {TITLE}: ok" in team("card", "rear-a/2", "--procedure", "ours.yaml").out
    assert team("calc", NAME, "--for", "build:rear-a/2", "--keep").code == 0
    left = without("card", "rear-a/2").out
    assert "PUSHES\n  Kept on 20" in left and SAID in left and "its plugin is not loaded here" in left
    assert "PUSHES" not in without("card", "rear-b/2").out


def test_its_check_says_whose_it_is_and_its_finding_can_be_put_by(team: Run) -> None:
    found = team("check").out
    assert "worth a look: rear-a/2 few pushes: was filled in few pushes (plugin pushes)." in " ".join(found.split())
    assert "Put by: rear-a/2 few pushes" in team("check", "--put-by", "rear-a/2 few pushes", "a wide syringe").out
    assert "was filled in few pushes" not in team("check").out


def test_it_travels_to_a_laptop_that_lacks_it(team: Run, without: Run, bevelbook: Run, tmp_path: Path) -> None:
    assert team("calc", NAME, "--all", "build").code == 0
    other = tmp_path / "other.db"
    assert bevelbook("--db", other, "--by", "ben", "new").code == 0
    assert without("export", tmp_path / "out").code == 0
    assert bevelbook("--db", other, "--by", "ben", "merge", tmp_path / "out").code == 0
    kept, rows, every = (
        bevelbook("--db", other, "export", "--table", name, "--csv", "-").out.splitlines()
        for name in (f"calc_{NAME}", f"calc_{NAME}_rows", "calculations")
    )
    assert len(kept) == 1 + 4 and {"pushes", "last_push_g", "verdict"} <= {*kept[0].split(",")}
    assert len(rows) == 1 + 4 * 4 and "on_scale_g" in rows[0]
    assert sum(SAID in line for line in every) == 4


def test_it_is_on_the_pages(site: EnteredSite) -> None:
    form = site.page(f"/team/-/calc/{NAME}")
    assert TITLE in form and 'name="push_g"' in form
    answer = words(site.page(f"/team/-/calc/{NAME}?oil_mass_g=1.86&dry_mass_g=12.4"))
    assert SAID in answer and "Pushes by their size" in answer
    assert SAID in words(site.page(f"/team/-/calc/{NAME}?for=build:rear-a/2"))
    assert "<svg" in site.page("/team/-/chart/pushes-by-size")
    assert TITLE in site.page("/team/-/calculators")
    assert TITLE in site.page("/team/-/search?q=syringe")
    assert "Syringes of the team" in site.page("/team/-/reference")
    assert "weighed by the team" in site.page("/team/-/reference/syringes")
    build = unescape(site.page("/team/-/build/rear-a~2F2"))
    assert f"/team/-/calc/{NAME}?for=build%3Arear-a%2F2" in build
    look = words(site.page("/team/-/look"))
    assert "was filled in few pushes (plugin pushes) ." in look


def test_it_is_kept_after_a_form_and_shown_on_the_page_of_its_build_and_on_the_card(site: EnteredSite) -> None:
    form = {"key": new_id(), "diff": "front-a", "dry_mass_g": "12", "oil_mass_g": "1.86", "another": "yes"}
    said = words(site.send("/team/-/enter/record/build", form))
    assert SAID in said or "front-a/2" in said
    assert site.rows("SELECT verdict FROM calculations WHERE calculator = ?", NAME) == [("ok",)]
    assert SAID in words(site.page("/team/-/build/front-a~2F2"))
    assert "last_push_g" in site.page(f"/team/calc_{NAME}") and "on_scale_g" in site.page(f"/team/calc_{NAME}_rows")
    card = words(site.page("/team/-/card/front-a~2F2"))
    assert f"ok Pushes: {SAID}" in card


def test_one_for_a_diff_is_on_the_card_of_its_build_and_on_the_page_of_the_diff(site: EnteredSite) -> None:
    site.send("/team/-/enter/record/diff", {"key": new_id(), "label": "rear-c", "screw_count": "4"})
    kept = words(site.page("/team/-/diff/rear-c"))
    assert f"Calculators for it: {OF_A_DIFF}" in kept and "evenly spread" in kept
    site.send("/team/-/enter/record/build", {"key": new_id(), "diff": "rear-c", "another": "yes"})
    assert "ok Angle 90.0 °: evenly spread." in words(site.page("/team/-/card/rear-c~2F1"))
    with closing(open_for_reading(site.team.path)) as connection:
        row = calculations_for(connection, BY_NAME["diff"], site.rows("SELECT max(id) FROM diffs")[0][0])
    (left,) = shown_calculations(Linker(site.datasette, "team"), Registry(), row)
    assert "screw spread, which is not loaded here" in left.title and left.reasons == ["evenly spread"]


def test_it_has_a_line_on_the_bench_below_the_steps_and_above_them_once_it_says_stop(site: EnteredSite) -> None:
    """25 pushes of 0.5 g are 12.5 g, over the 20 at which it says stop."""
    path, ids = site.team.path, site.team.ids
    with closing(open_for_writing(path)) as connection, transaction(connection, path, asked="a test", by="ana"):
        writer = Writer(connection, "ana", now_utc)
        work = {"diff": ids["rear-b"], "kind": "rebuild"}
        build = writer.insert(BY_NAME["build"], {**work, "label": "rear-b/3", "built_on": "2026-05-04"})
        begun = {**work, "way": "step by step", "begun_at": now_utc(), "ends": ids["rear-b/2"], "build": build}
        job = writer.insert(BY_NAME["bench_job"], begun)
        writer.update(BY_NAME["diff"], ids["rear-b"], {"screw_count": 4})
    page = f"/team/-/enter/bench/{job}"
    assert f"ok {OF_A_DIFF} Angle 90.0 °: evenly spread" in words(site.page(page))
    assert TITLE not in site.page(page), "what it lacks is asked for by the card"
    for oil_mass_g, verdict, is_above in ((1.86, f"ok {TITLE} {SAID}", False), (12.5, "stop", True)):
        with closing(open_for_writing(path)) as connection, transaction(connection, path, asked="a test", by="ana"):
            masses = {"dry_mass_g": 12.0, "oil_mass_g": oil_mass_g}
            Writer(connection, "ana", now_utc).update(BY_NAME["build"], build, masses)
        shown = site.page(page)
        assert verdict in words(shown)
        assert (shown.index(TITLE) < shown.index('class="bench-steps')) == is_above
