"""The masses of a bottle as they are typed: full it weighs more than empty. All constructed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Run = Callable[..., Any]


def test_a_bottle_weighs_more_full_than_empty(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "fluid", "label=house 7k")
    refused = bevelbook("record", "bottle", "fluid=house 7k", "lot=B2", "full_mass=11.2", "empty_mass=71.4")
    assert refused.code == 2
    assert "a full bottle of 11.2 g cannot weigh less than, or as much as, the empty one of 71.4 g" in refused.err
    kept = bevelbook("record", "bottle", "fluid=house 7k", "lot=B2", "full_mass=71.4 g")
    assert kept.code == 0
    later = bevelbook("record", "bottle", "B2", "empty_mass=71.4")
    assert later.code == 2, "the mass that was written before counts too"
    assert bevelbook("record", "bottle", "B2", "empty_mass=11.2").code == 0
    check = ("record", "bottle-check", "bottle=B2")
    for mass, said in (
        ("11.0", "cannot weigh less than the empty one of 11.2 g"),
        ("72", "than the full one of 71.4 g"),
    ):
        refused = bevelbook(*check, f"mass={mass}")
        assert (refused.code, said in refused.err) == (2, True)
    assert "neither weighed nor looked at" in bevelbook(*check).err
    assert bevelbook(*check, "mass=41.3").code == 0
    heavier = bevelbook("record", "bottle", "B2", "empty_mass=50")
    assert "a bottle of 41.3 g on the scale cannot weigh less than the empty one of 50 g" in heavier.err
    assert bevelbook("record", "bottle", "B2", "lot=B3").code == 0
