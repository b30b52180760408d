"""Whichever scale took a mass, and whatever is noted of it, the facts and the calculator say the same to the word.

All data are constructed: 1.86 g of oil, 22.35 g closed. Standard uncertainty of a reading: u² = d² / 12 + s²
(JCGM 100:2008, F.2.2.1); s is one step where it is not known (our own figure).
"""

from __future__ import annotations

import sqlite3
from itertools import product
from math import sqrt

import pytest
from constructed import Add, Team

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.known import find_subject, known_of
from bevelbook.facts.leak import leaks_of
from bevelbook.plugin.registry import Registry
from bevelbook.store.writing import Writer

SCALES: dict[str, dict[str, float] | None] = {
    "not said": None,
    "step only": {"step_g": 0.01},
    "fine": {"step_g": 0.001, "repeatability_g": 0.002},
    "scatters": {"step_g": 0.01, "repeatability_g": 0.02},
}
MASSES = {
    "a little": ((6.0, 22.30),),
    "much": ((6.0, 22.34), (13.0, 22.05)),
    "apart at one count": ((6.0, 22.34), (6.0, 22.05)),
    "heavier": ((6.0, 22.45),),
}


def u_g(scale: str) -> float:
    known = SCALES[scale] or {"step_g": 0.01}
    return sqrt(known["step_g"] ** 2 / 12 + known.get("repeatability_g", known["step_g"]) ** 2)


@pytest.mark.parametrize(("at_the_build", "later"), list(product(SCALES, SCALES)))
def test_the_facts_and_the_calculator_agree(
    connection: sqlite3.Connection, writer: Writer, add: Add, registry: Registry, at_the_build: str, later: str
) -> None:
    ids = {name: add("scale", name=name, **values) for name, values in SCALES.items() if values is not None}
    team = Team(add)
    leak_trend = registry.calculators["leak-trend"].calculator
    for masses in MASSES.values():
        build = team.build(oil_mass_g=1.86, closed_mass_g=22.35, scale=ids.get(at_the_build))
        for runs, mass_g in masses:
            add("weighing", build=build, runs=runs, mass_g=mass_g, mass_basis="closed", scale=ids.get(later))
        fact = connection.execute(
            "SELECT leak, loss_g, loss_uncertainty_g, good_until_runs, bad_from_runs FROM build_facts WHERE build = ?",
            (build,),
        ).fetchone()
        result = run(
            leak_trend, bind(leak_trend, {}, known_of(connection, leak_trend, [find_subject(connection, build)]))
        )
        found = result.found
        assert (result.verdict, found.loss_g) == (fact["leak"], fact["loss_g"])
        assert found.loss_high_g - found.loss_g == pytest.approx(fact["loss_uncertainty_g"])
        assert found.changed_before_runs == fact["bad_from_runs"]
        story = leaks_of(connection, [build])[build]
        assert (story.judgement.reasons, story.judgement.findings) == (
            result.judgement.reasons,
            result.judgement.findings,
        )
        late = at_the_build if later == "not said" else later
        assert fact["loss_uncertainty_g"] == pytest.approx(2 * sqrt(u_g(at_the_build) ** 2 + u_g(late) ** 2))
