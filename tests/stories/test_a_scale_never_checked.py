"""A loss weighed on a scale that was never checked says what it rests on, as it is written and in ``check``."""

from __future__ import annotations

from collections.abc import Callable

from conftest import Outcome

ASSUMED = "the scale was never checked: one step, 0.001 g, is assumed as its repeatability"


def test_a_loss_on_a_scale_never_checked_says_what_is_assumed(bevelbook: Callable[..., Outcome]) -> None:
    """Constructed: 0.30 g lost on a scale with fine steps."""
    bevelbook("new")
    bevelbook("record", "scale", "name=fine", "step=0.001")
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-01", "oil_mass=1.86g", "closed_mass=22.350g",
              "scale=fine", "mass_basis=closed")  # fmt: skip
    weighed = bevelbook("record", "weighing", "build=rear-a/1", "weighed_on=2026-05-08", "runs=6", "mass=22.050g",
                        "scale=fine", "mass_basis=closed")  # fmt: skip
    assert ASSUMED in " ".join(weighed.out.split())
    checked = " ".join(bevelbook("check").out.split())
    assert f"in 6 runs, {ASSUMED}" in checked
