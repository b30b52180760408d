"""What calculators give to the bench for a build: ways to wait for the bubbles, passes over the screws."""

from __future__ import annotations

import sqlite3

import pytest
from card_team import make_bare_build, make_full_build

from bevelbook.card.bench_numbers import bench_passes, bench_waits
from bevelbook.card.build_card import card_of, filling_of
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.writing import Writer


def test_bubbles_stand_or_are_pumped(connection: sqlite3.Connection, registry: Registry, writer: Writer) -> None:
    """128.64 s standing and 43.61 s at 20 kPa absolute for 7,000 cSt at 25 °C, the worked example of degas: speed of a
    rigid ball from the fluids library 1.3.1. Here at 20 °C, where the oil is thicker by the same factor for both."""
    build = make_full_build(writer)
    writer.update(BY_NAME["bottle"], connection.execute("SELECT id FROM bottles").fetchone()[0], {"viscosity_cst": 7e3})
    found = bench_waits(connection, registry, build, ("nothing", "degas"), {"gauge_kpa": "-81.325"})
    stand, pump = found.waits
    assert (stand.how, pump.how) == ("stand", "pump")
    assert stand.at_most_s > 128.64
    assert pump.at_most_s / stand.at_most_s == pytest.approx(43.61 / 128.64, rel=1e-3)
    assert [field.name for field in found.asks] == ["gauge_kpa"]
    assert any("vacuum" in caution for caution in found.cautions)
    without = bench_waits(connection, registry, build, ("degas",), {})
    assert [one.how for one in without.waits] == ["stand", "pump", "pump"]


def test_a_gauge_that_cannot_be_read_is_said(
    connection: sqlite3.Connection, registry: Registry, writer: Writer
) -> None:
    build = make_full_build(writer)
    found = bench_waits(connection, registry, build, ("degas",), {"gauge_kpa": "80"})
    assert found.waits == ()
    assert "no minus sign" in found.lacking


def test_passes_over_the_screws_end_once_round(
    connection: sqlite3.Connection, registry: Registry, writer: Writer
) -> None:
    """Six screws: opposite pairs, each new pair halves the largest free angle (Hennig Gasket, How to bolt flanges)."""
    build = make_full_build(writer, screw_count=6)
    writer.update(BY_NAME["build"], build, {"screw_torque_nm": 0.35})
    *crossing, last = bench_passes(connection, registry, build, ("tightening",)).passes
    assert {one.order for one in crossing} == {"1-4-2-5-3-6"}
    assert last.order == "1-2-3-4-5-6"
    assert (crossing[-1].figure, last.figure) == ("0.35 N·m", "0.35 N·m")
    assert "tightened in the order 1-2-3-4-5-6" in last.picture


def test_what_a_calculator_lacks_is_named(connection: sqlite3.Connection, registry: Registry, writer: Writer) -> None:
    build = make_bare_build(writer)
    assert bench_waits(connection, registry, build, ("degas",), {}).lacking == "needs viscosity"
    assert bench_passes(connection, registry, build, ("tightening",)).lacking == "needs screw count"
    assert bench_passes(connection, registry, build, ("degas", "nothing")).passes == ()


def test_the_fill_target_is_that_of_the_card(
    connection: sqlite3.Connection, registry: Registry, writer: Writer
) -> None:
    build = make_full_build(writer)
    done = filling_of(connection, registry, build)
    assert done.answer is not None
    assert f"{done.answer.found.stop_mass_g:.2f}" == card_of(connection, registry, build).stop.mass_g == "11.02"
