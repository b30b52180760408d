"""A racer wrote down seals, an opening, parts and temperatures once, and is not asked for them again.

All figures are constructed.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from browser_team import site_over
from conftest import Begin, Outcome

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

Bevelbook = Callable[..., Outcome]


@pytest.fixture
def opened(bevelbook: Bevelbook, begin: Begin) -> Bevelbook:
    """rear-a with the seals that usually sit in it; rear-a/1 was run and then opened for a leak."""
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "seal", "label=lid ring", "outside_diameter=20", "material=EPDM"),
        ("record", "seal", "label=shaft ring", "inside_diameter=5", "section=2", "outside_diameter=9", "material=FKM"),
        ("record", "diff", "label=rear-a", "joint_seal=lid ring", "shaft_seal=shaft ring"),
        ("record", "fluid", "label=house 7k", "viscosity=7000", "viscosity_source=its label"),
        ("record", "fluid", "label=house 10k", "viscosity=10000", "viscosity_source=its label"),
        ("record", "fluid", "label=house 100k", "viscosity=100000", "viscosity_source=its label"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-03", "oil_mass=1.86", "fluid=house 7k"),
        ("record", "run", "run_on=2026-05-03", "air_temp=24", "track_temp=31", "rear=rear-a/1"),
    )
    return bevelbook


def with_diff_temperature(folder: Path, diff_temp_c: float) -> None:
    """Note the temperature of the diff in its only run."""
    path = folder / "bevelbook.db"
    connection = open_for_writing(path)
    with transaction(connection, path, asked="a test", by="ana"):
        (row_id,) = connection.execute("SELECT id FROM run_diffs").fetchone()
        Writer(connection, "ana").update(BY_NAME["run_diff"], row_id, {"diff_temp_c": diff_temp_c})
    connection.close()


def one_line(done: Outcome) -> str:
    return " ".join((done.out + done.err).split())


def test_the_seal_in_the_place_asked_about_is_known_from_the_diff(opened: Bevelbook) -> None:
    done = opened("calc", "seal-swell", "--for", "rear-a", "--place", "joint", "--measured-outside-diameter", "20.2")
    said = one_line(done)
    assert said.startswith("Seal swell ok: it may go back unless it is cut, flat or cracked")
    assert "material EPDM (the seal lid ring, usual there, build rear-a/1)" in said
    done = opened("calc", "seal-swell", "--for", "rear-a", "--place", "lid-side shaft",
                  "--measured-outside-diameter", "9.05")  # fmt: skip
    assert "material FKM (the seal shaft ring, usual there, build rear-a/1)" in one_line(done)


def test_only_the_size_that_is_not_known_yet_is_asked_for(opened: Bevelbook) -> None:
    done = opened("calc", "seal-swell", "--for", "rear-a", "--place", "joint")
    assert done.err == "bevelbook: seal-swell needs --measured-outside-diameter. Give it.\n"
    assert opened("calc", "seal-swell", "--for", "rear-a").err.startswith("bevelbook: --place is missing.")


def test_the_seal_that_was_fitted_goes_before_the_usual_one(opened: Bevelbook) -> None:
    opened("record", "seal", "label=green ring", "outside_diameter=20.4", "material=FKM")
    assert opened("record", "seal-fitting", "build=rear-a/1", "place=joint", "seal=green ring").code == 0
    done = opened("calc", "seal-swell", "--for", "rear-a", "--place", "joint", "--measured-outside-diameter", "20.5")
    assert "outside diameter 20.4 mm (the seal green ring, fitted there, build rear-a/1)" in one_line(done)


@pytest.mark.parametrize("state", ["flattened", "nicked", "swollen", "hard"])
def test_a_seal_found_bad_at_the_last_opening_is_never_ok_to_go_back(opened: Bevelbook, state: str) -> None:
    opened("record", "opening", "build=rear-a", "opened_on=2026-05-09", f"seals={state}")
    for build in ("rear-a/1", "rear-a/2"):
        if build == "rear-a/2":
            opened("record", "build", "diff=rear-a", "built_on=2026-05-10", "like=rear-a/1")
        done = opened("calc", "seal-swell", "--for", build, "--place", "joint", "--measured-outside-diameter", "20.0")
        assert f"caution: a seal was found {state} when the diff was last opened" in one_line(done)
        assert f"found at opening {state} (opening of rear-a/1 on 2026-05-09)" in one_line(done)
        assert "it may go back" not in done.out


def test_a_new_seal_is_not_held_for_the_one_that_was_found_bad(opened: Bevelbook) -> None:
    opened("record", "opening", "build=rear-a", "opened_on=2026-05-09", "seals=flattened")
    opened("record", "build", "diff=rear-a", "built_on=2026-05-10", "like=rear-a/1")
    opened("record", "seal-fitting", "build=rear-a/2", "place=joint", "seal=lid ring", "condition=new")
    opened("record", "seal-fitting", "build=rear-a/2", "place=lid-side shaft", "seal=shaft ring", "condition=used",
           "measured_outside_diameter=9.0")  # fmt: skip
    asked = ("calc", "seal-swell", "--for", "rear-a/2", "--place")
    assert "it may go back" in opened(*asked, "joint", "--measured-outside-diameter", "20.0").out
    assert "a seal was found flattened" in opened(*asked, "lid-side shaft").out
    assert "a seal was found flattened" in one_line(opened("card", "rear-a/2"))


def test_a_part_that_was_put_in_new_is_on_the_card(opened: Bevelbook) -> None:
    opened("record", "build-part", "build=rear-a/1", "part=outdrive", "place=lid side", "condition=new")
    opened("record", "build-part", "build=rear-a/1", "part=cross pin", "condition=turned over")
    opened("record", "build-part", "build=rear-a/1", "part=side gear", "place=both", "condition=used")
    text = opened("card", "rear-a/1").out
    assert "new outdrive lid side; turned over cross pin" in text
    assert "side gear both" not in text


def test_the_temperature_of_the_diff_in_its_last_run_is_known(opened: Bevelbook, tmp_path: Path) -> None:
    with_diff_temperature(tmp_path, 38.0)
    said = one_line(opened("calc", "viscosity", "--for", "rear-a"))
    assert "temperature 38 °C (run 2026-05-03/1, build rear-a/1)" in said
    said = one_line(opened("calc", "same-feel", "--for", "rear-a", "--temperature-now", "60"))
    assert "take the 10,000" in said
    assert "points better for a rebuild" in said
    assert "as 7,000 cSt at 38 °C did in run 2026-05-03/1, both of the diff" in said
    assert "diff then 38 °C (run 2026-05-03/1, build rear-a/1)" in said
    assert "60 °C was taken as of the diff; if it is of something else choose the basis" in said


def test_without_it_the_air_of_that_run_serves_and_that_is_said(opened: Bevelbook) -> None:
    said = one_line(opened("calc", "same-feel", "--for", "rear-a", "--temperature-now", "36"))
    assert "leave it: 10,000 is 14 % too thick, the 7,000 that is in 21 % too thin: hardly worth a rebuild" in said
    assert "air then 24 °C (run 2026-05-03/1, build rear-a/1)" in said
    assert "from air temperatures only: same rise assumed" in said
    assert "100,000" not in said, "over three times off"
    said = one_line(opened("calc", "same-feel", "--for", "rear-a", "--temperature-now", "36", "--basis", "track"))
    assert "7,000 cSt at 31 °C did in run 2026-05-03/1, both of the track" in said
    assert opened("calc", "viscosity", "--for", "rear-a").code == 2, "the air is not the diff"


def test_the_page_fills_the_seal_in_after_the_place_is_chosen(
    opened: Bevelbook, registry: Registry, tmp_path: Path
) -> None:
    address = "/bevelbook/-/calc/seal-swell?for=rear-a%2F1&place=joint&measured_outside_diameter_mm=20.2"
    with site_over(tmp_path / "bevelbook.db", registry) as site:
        page = site.page(address)
    assert "material EPDM (the seal lid ring, usual there, build rear-a/1)" in page
    assert "it may go back" in page.lower()
