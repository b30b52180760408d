"""A weighing that the others contradict is asked about wherever the oil is spoken of, and does not count anywhere.

All data are constructed: 1.86 g of oil, 22.35 g closed, one weighing 0.20 g over those before and after it. The scale
has steps of 0.01 g and a repeatability of 0.005 g: two readings agree up to 0.03 g.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from browser_team import site_over
from conftest import Outcome

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id
from bevelbook.store.opened_to_read import open_for_reading

Run = Callable[..., Outcome]
ODD = "the weighing at run 6 is 0.20 g off its neighbours (was something else on the scale?) and does not count"


def flat(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


@pytest.fixture
def team(bevelbook: Run) -> Run:
    bevelbook("new")
    bevelbook("record", "scale", "name=pocket", "step=0.01", "repeatability=0.005", "day_to_day=0")
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    masses = ("dry_mass=12.42g", "oil_mass=1.86g", "closed_mass=22.35g")
    bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-01", *masses, "scale=pocket")
    return bevelbook


def weigh(bevelbook: Run, runs: int, mass_g: float) -> str:
    words = (
        f"runs={runs}",
        f"mass={mass_g}g",
        "mass_basis=closed",
        "scale=pocket",
        f"weighed_on=2026-05-{runs + 2:02}",
    )
    return flat(bevelbook("record", "weighing", "build=rear-a/1", *words).out)


def test_it_is_asked_about_everywhere(team: Run, tmp_path: Path, registry: Registry) -> None:
    weigh(team, 3, 22.35)
    weigh(team, 6, 22.55)
    said = {"record": weigh(team, 9, 22.34)}
    path = tmp_path / "bevelbook.db"
    connection = open_for_reading(path)
    facts = connection.execute("SELECT leak, loss_g, weighings_apart, bad_from_runs FROM build_facts").fetchone()
    assert tuple(facts) == ("unclear", 0.01, ODD, None)
    build, diff = (
        find_id(connection, BY_NAME[kind], name) for kind, name in (("build", "rear-a/1"), ("diff", "rear-a"))
    )
    connection.close()
    said["check"] = flat(team("check").out)
    said["calc"] = flat(team("calc", "leak-trend", "--for", "rear-a/1").out)
    with site_over(path, registry) as site:
        said["home"] = flat(site.page("/"))
        said["build page"] = flat(site.page(f"/bevelbook/-/build/{build}"))
        said["diff page"] = flat(site.page(f"/bevelbook/-/diff/{diff}"))
    home = said.pop("home")
    assert ODD in home
    assert "Weigh rear-a (" in home
    assert [
        name for name, text in said.items() if f"{ODD}, weigh again" not in text.replace("The weighing", "the weighing")
    ] == []
    assert not any("sudden" in text for text in said.values())
    assert "22.55 g (2026-05-08, weighing rear-a/1#2)" in said["check"]
    (finding,) = [one for group in team("check", "--json").json["diffs"] for one in group["findings"]]
    assert (finding["code"], finding["severity"]) == ("weighings_apart", "worth a look")


def test_two_sound_weighings_after_it_settle_it(team: Run) -> None:
    weigh(team, 3, 22.35)
    weigh(team, 6, 22.55)
    weigh(team, 9, 22.34)
    written = weigh(team, 12, 22.34)
    assert "ok: no loss seen" in written
    assert "Shelf: rear-a was 'weigh it', is now 'ready'" in written
    (finding,) = [one for group in team("check", "--json").json["diffs"] for one in group["findings"]]
    assert (finding["code"], finding["words"]) == ("weighing_left_out", ODD)
    assert "22.55 g (2026-05-08, weighing rear-a/1#2)" in finding["remedy"]


def test_it_hides_no_loss(team: Run) -> None:
    weigh(team, 3, 22.10)
    weigh(team, 6, 22.55)
    written = weigh(team, 9, 22.05)
    assert "rear-a/1: STOP: lost 0.30 g of 1.86 g" in written
    (lost,) = [
        one for group in team("check", "--json").json["diffs"] for one in group["findings"] if one["code"] == "oil_lost"
    ]
    assert "the weighing at run 6 is 0.45 g off its neighbours" in lost["words"]
