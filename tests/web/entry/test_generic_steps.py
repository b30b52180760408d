"""Steps without a screen of their own: each can be stored from its own fields. All data are constructed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from web.entry.test_step_screens import Bench, bench_of, form_of

from bevelbook.card.bench_steps import steps_of_job
from bevelbook.card.procedure import Procedure, ProcedureStep, bundled_procedure, procedure_from
from bevelbook.declare.vocabulary import SAME_AGAIN, STEP_BY_STEP
from bevelbook.plugin.registry import Registry
from bevelbook.web.entry.bench_order import screen_of
from bevelbook.web.entry.generic_step import GENERIC

OWN = """
title: "Our way"
steps:
  - key: "ring"
    title: "The ring"
    do: "Look at it."
    write_down: ["seal_fittings.state"]
  - key: "shim"
    title: "One shim"
    do: "Put it in."
    write_down: ["build_shims.pieces"]
  - key: "part"
    title: "One part"
    do: "Look at it."
    write_down: ["build_parts.condition"]
  - key: "shut"
    title: "Shut"
    do: "Weigh it."
    write_down: ["weighings.note"]
  - key: "case"
    title: "The case"
    do: "Look at it."
    write_down: ["diffs.note"]
"""
TYPED = {"quantity": "2", "whole": "2", "text": "a note", "date": "today"}
KINDS = [(kind, way) for kind in ("rebuild", "oil change", "top-up") for way in (STEP_BY_STEP, SAME_AGAIN)]


def typed_in(fields: Any, turn: int) -> dict[str, str]:
    """Something in every input: the first or another choice of each; 14.2 g for a mass."""
    found = {}
    for one in fields:
        if one.choices:
            choice = one.choices[turn % len(one.choices)]
            found[one.name] = choice if isinstance(choice, str) else choice[0]
        elif one.kind != "reference":
            found[one.name] = "14.2" if "mass" in one.name else TYPED.get(one.kind, "a note")
    return found


def store_each(bench: Bench, procedure: Procedure) -> list[ProcedureStep]:
    """Store each step without a screen of its own from its own fields, and then correct it."""
    done = []
    for step in steps_of_job(bench.connection, procedure, bench.job):
        if screen_of(step) is GENERIC:
            for turn in (0, 1):
                fields = GENERIC.shown(bench.connection, bench.job, step)["fields"]
                bench.send_step(step, form_of(typed_in(fields, turn)), procedure)
            done.append(step)
    return done


@pytest.mark.parametrize(("kind", "way"), KINDS)
def test_each_step_is_stored_from_its_own_fields(tmp_path: Path, registry: Registry, kind: str, way: str) -> None:
    with bench_of(tmp_path, registry, kind, way) as bench:
        done = store_each(bench, bundled_procedure())
        assert "lid-seal" in {step.key for step in done}
        build = bench.job.build
        joint = f"SELECT state, s.label FROM seal_fittings n JOIN seals s ON s.id = seal WHERE build = '{build}' "
        assert len(bench.rows(f"{joint} AND place = 'joint'")) == 1


def test_each_step_of_a_new_diff_is_stored_from_its_own_fields(tmp_path: Path, registry: Registry) -> None:
    with bench_of(tmp_path, registry, "new", STEP_BY_STEP, is_new=True) as bench:
        store_each(bench, bundled_procedure())
        assert bench.rows("SELECT place, state IS NOT NULL FROM seal_fittings") == [("joint", 1)]


def test_a_teams_own_step_has_an_input_for_what_its_record_needs(tmp_path: Path, registry: Registry) -> None:
    with bench_of(tmp_path, registry, "rebuild", STEP_BY_STEP) as bench:
        done = store_each(bench, procedure_from(OWN, "ours.yaml"))
        assert len(done) == 5
        build = bench.job.build
        for table in ("seal_fittings", "build_shims", "build_parts"):
            assert bench.rows(f"SELECT count(*) FROM {table} WHERE build = '{build}'") == [(1,)], table
        assert bench.rows("SELECT count(*) FROM weighings") == [(1,)], "a correction is not a second weighing"


def test_the_ring_of_the_lid_is_changed_where_it_is(tmp_path: Path, registry: Registry) -> None:
    with bench_of(tmp_path, registry, "top-up", STEP_BY_STEP) as bench:
        bench.send("lid-seal", seal_fittings__state="swollen")
        rows = bench.rows(f"SELECT place, state FROM seal_fittings WHERE build = '{bench.job.build}' ORDER BY place")
        assert rows == [("case-side shaft", None), ("joint", "swollen"), ("lid-side shaft", None)]
