"""The same build again: what was written once is not typed a second time. All data are constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import Begin

Run = Callable[..., Any]
NEXT = ("record", "build", "diff=rear-a", "built_on=2026-06-01", "dry_mass=12.41", "like=rear-a/1")


@pytest.fixture
def garage(bevelbook: Run, begin: Begin) -> Run:
    """A build with its oil by two masses, a seal, a shim and a part."""
    masses = ("dry_mass=12.40", "filled_mass=14.26", "mass_basis=open half", "scale=bench", "fluid=house 7k")
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "scale", "name=bench", "step_g=0.01"),
        ("record", "fluid", "label=house 7k"),
        ("record", "fluid", "label=house 10k"),
        ("record", "diff", "label=rear-a"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-03", "kind=rebuild", *masses),
        ("record", "seal", "label=lid ring", "material=VMQ"),
        ("record", "seal-fitting", "build=rear-a/1", "place=joint", "seal=lid ring", "condition=new"),
        ("record", "build-shim", "build=rear-a/1", "place=behind case-side gear", "thickness=0.2"),
        ("record", "build-part", "build=rear-a/1", "part=outdrive", "place=lid side", "condition=new"),
    )
    return bevelbook


def test_the_oil_put_in_is_the_target_and_reaches_the_scale(garage: Run) -> None:
    done = garage(*NEXT)
    assert "target_oil_mass_g: 1.86  (carried over from rear-a/1, where it was the oil put in)" in done.out
    assert "fluid: house 7k  (carried over from rear-a/1)" in done.out
    target = garage("calc", "fill-target", "--for", "rear-a", "--json").json
    assert target["outputs"]["stop_mass_g"] == pytest.approx(14.27)
    again = garage("record", "build", "diff=rear-a", "built_on=2026-06-08", "like=rear-a/2", "--json").json
    assert again["values"]["target_oil_mass_g"] == 1.86
    assert again["carried_over"]["target_oil_mass_g"] == "rear-a/2"


def test_a_target_that_was_typed_stays(garage: Run) -> None:
    assert garage(*NEXT, "target_oil_mass=1.90", "--json").json["values"]["target_oil_mass_g"] == 1.90


def test_seals_shims_and_parts_come_along_and_whether_they_are_new_does_not(garage: Run) -> None:
    done = garage(*NEXT)
    assert "Carried over from rear-a/1, for you to say what is new: 1 seal fitting, 1 part, 1 shim." in done.out
    fitting = garage("record", "seal-fitting", "rear-a/2 joint", "state=ok", "--json").json["values"]
    assert (fitting["seal"], fitting.get("condition")) == ("lid ring", None)
    part = garage("record", "build-part", "rear-a/2 outdrive lid side", "condition=used", "--json").json
    assert part["done"] == "changed"
    shim = garage("record", "build-shim", "rear-a/2 behind case-side gear", "pieces=2", "--json").json["values"]
    assert (shim["thickness_mm"], shim["pieces"]) == (0.2, 2)


def test_a_blend_is_left_behind_where_the_next_build_names_an_oil(garage: Run) -> None:
    for fluid, mass in (("house 7k", 10), ("house 10k", 10)):
        cst = 1000 * int(fluid.removeprefix("house ").rstrip("k"))
        words = (f"fluid={fluid}", f"viscosity={cst}", f"mass={mass}")
        assert garage("record", "blend-part", "build=rear-a/1", *words).code == 0
    assert "2 blend parts" in garage(*NEXT).out
    assert "blend part" not in garage(*NEXT, "fluid=house 10k").out


def test_a_top_up_is_not_repeated_as_a_top_up(garage: Run) -> None:
    garage("record", "build", "diff=rear-a", "built_on=2026-05-20", "kind=top-up", "like=rear-a/1")
    done = garage("record", "build", "diff=rear-a", "built_on=2026-06-08", "like=rear-a/2", "--json").json
    assert "kind" not in done["values"]
    assert done["values"]["target_oil_mass_g"] == 1.86


@pytest.fixture
def marked(garage: Run) -> Run:
    """The same with a marked outdrive in the build, and a second diff."""
    garage("record", "build-part", "build=rear-a/1", "part=outdrive", "place=case side", "mark=o7")
    garage("record", "diff", "label=front-a")
    return garage


def test_a_marked_piece_stays_in_its_diff_where_another_one_is_built_like_it(marked: Run) -> None:
    done = marked("record", "build", "diff=front-a", "built_on=2026-06-01", "like=rear-a/1")
    assert "1 seal fitting, 1 part, 1 shim." in done.out
    assert "The marked outdrive o7 stays in rear-a." in done.out
    assert marked("record", "build-part", "front-a/1 outdrive case side", "condition=used").code == 2


def test_a_marked_piece_comes_along_in_its_own_diff(marked: Run) -> None:
    done = marked(*NEXT)
    assert "1 seal fitting, 2 parts, 1 shim." in done.out
    assert "stays" not in done.out
    assert marked("record", "build-part", "rear-a/2 outdrive case side", "--json").json["values"]["mark"] == "o7"


def test_a_marked_piece_that_has_left_since_does_not_come_back(marked: Run) -> None:
    marked("record", "build", "diff=front-a", "built_on=2026-05-20")
    marked("record", "build-part", "build=front-a/1", "part=outdrive", "place=case side", "mark=o7")
    done = marked(*NEXT)
    assert "1 seal fitting, 1 part, 1 shim." in done.out
    assert "The marked outdrive o7 stays in front-a." in done.out
