"""A batch keeps what the same calculations made one by one would keep, and works out equal inputs once."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from math import copysign, isfinite
from pathlib import Path
from typing import Any

import pytest
from conftest import FIXED_NOW
from declared_calculator import declared
from demo_book import demo_book
from hypothesis import example, given
from hypothesis import strategies as st

from bevelbook.calculating import binding
from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.keep import batch, keep_result
from bevelbook.calculating.known import Subject, known_of
from bevelbook.calculating.rows import RowWriter, tell_number
from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import quantity, record
from bevelbook.plugin.registry import Offered, Origin, Registry, load
from bevelbook.records import BY_NAME
from bevelbook.store import calculations
from bevelbook.store.calculations import COLUMNS
from bevelbook.store.opening import open_for_writing
from bevelbook.store.writing import Writer

BATCHES: list[tuple[str, str, dict[str, str | list[str]]]] = [
    ("fill-target", "build", {}),
    ("fill-target", "build", {"oil_mass_g": "1.86 +/- 0.02 g (k = 1)"}),
    ("fill-target", "diff", {"dry_mass_g": "12.4 g", "oil_mass_g": "1.86 g"}),
    ("headspace", "build", {}),
    ("degas", "build", {}),
    ("leak-trend", "build", {}),
    ("leak-trend", "build", {"repeatability_g": "0.004 +/- 0.001 (k = 1)"}),
    ("blend", "build", {}),
    ("viscosity", "build", {}),
]
"""With and without listings, uncertainties, reasons, and with records that are left out."""


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's database, made once."""
    return demo_book(tmp_path_factory.mktemp("demo") / "demo.db")


@pytest.fixture
def notes(shown: Path) -> Iterator[sqlite3.Connection]:
    """The demo's records without its calculations, inside a transaction that is never committed."""
    connection = open_for_writing(shown)
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("DELETE FROM calculations")
    yield connection
    connection.rollback()
    connection.close()


def kept(connection: sqlite3.Connection) -> list[dict[str, Any]]:
    """All calculations in the order in which they were kept."""
    rows = connection.execute(f"SELECT {', '.join(COLUMNS)} FROM calculations ORDER BY rowid")
    return [dict(row) for row in rows]


def kept_one_by_one(
    connection: sqlite3.Connection, offered: Offered, kind_name: str, texts: dict[str, str | list[str]]
) -> list[dict[str, Any]]:
    """The rows that ``calc NAME --for RECORD --keep`` leaves for every record of a kind.

    The record is named there with each origin; a batch, where it is the row's own, leaves it away.
    """
    kind = BY_NAME[kind_name]
    records = connection.execute(f"SELECT id, {kind.label} AS label FROM {kind.table} ORDER BY id").fetchall()
    of_itself = {"build": "the build", "fluid": "the fluid"}
    for row_id, label in records:
        subject = Subject(kind, row_id, label)
        try:
            known = known_of(connection, offered.calculator, [subject])
            result = run(offered.calculator, bind(offered.calculator, texts, known))
        except InputError:
            continue
        origins = {
            name: of_itself.get(kind_name, kind_name)
            if origin == f"{kind_name} {label}"
            else origin.removesuffix(f", {kind_name} {label}").removesuffix(f", {label}")
            for name, origin in result.bound.origins.items()
        }
        result.bound = result.bound._replace(origins=origins)
        keep_result(connection, offered, result, subject, "ana", FIXED_NOW)
    return kept(connection)


@pytest.mark.parametrize(("name", "kind_name", "texts"), BATCHES)
@pytest.mark.parametrize("block_rows", [7, 1_000])
def test_a_batch_keeps_the_rows_that_are_kept_one_by_one(
    notes: sqlite3.Connection,
    registry: Registry,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    kind_name: str,
    texts: dict[str, str | list[str]],
    block_rows: int,
) -> None:
    monkeypatch.setattr(binding, "BLOCK_ROWS", block_rows)
    monkeypatch.setattr(calculations, "BLOCK_ROWS", block_rows)
    offered = registry.calculator(name)
    alone = kept_one_by_one(notes, offered, kind_name, texts)
    notes.execute("DELETE FROM calculations")
    report = batch(notes, offered, BY_NAME[kind_name], texts, "ana", lambda: FIXED_NOW)
    assert kept(notes) == alone
    assert report.computed == report.new == len(alone) > 0
    count = notes.execute(f"SELECT count(*) FROM {BY_NAME[kind_name].table}").fetchone()[0]
    assert report.computed + sum(report.left_out.values()) == count


def as_json(value: object) -> str:
    """JSON by the standard library alone."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


@pytest.mark.parametrize("offered", load().calculators.values(), ids=lambda offered: offered.calculator.name)
def test_what_is_kept_is_the_json_of_the_result(offered: Offered) -> None:
    calculator = offered.calculator
    for example_ in calculator.worked:
        result = run(calculator, bind(calculator, example_.given))
        encoded = RowWriter(offered, None, FIXED_NOW).tell(result)
        assert encoded.given == as_json(result.inputs)
        assert encoded.found == as_json(result.outputs)
        assert encoded.rows == (as_json(result.rows) if calculator.listing_out else None)
        assert encoded.uncertainties == (as_json(result.uncertainties) if result.uncertainties else None)
        assert encoded.origins == as_json(result.bound.origins)
        assert encoded.reasons == as_json([*result.judgement.reasons, *result.findings])


@given(st.floats(allow_nan=False, allow_infinity=False))
@example(-0.0)
@example(7000.0)
@example(0.1 + 0.2)
@example(123456789012.5)
@example(999999999999.5)
@example(1e15)
@example(1e-5)
@example(-2.5e-4)
@example(5e-324)
def test_a_number_has_12_digits_as_in_json(value: float) -> None:
    """The text is JSON's own for the number that its 12 digits stand for, and zero has no sign."""
    encoded = tell_number(value)
    rounded = float(f"{value:.12g}")
    assert encoded == as_json(rounded if rounded else 0.0)
    assert copysign(1.0, json.loads(encoded)) == (copysign(1.0, value) if rounded else 1.0)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_is_not_finite_is_refused(value: float) -> None:
    assert not isfinite(value)
    with pytest.raises(ValueError, match="not JSON compliant"):
        tell_number(value)


@record
class Oil:
    viscosity_cst: float = quantity("cSt", "Viscosity", above=0, below=20_000, same_as="builds.viscosity_cst")
    share_percent: float = quantity("%", "Share", default=50)


@record
class Half:
    half_cst: float = quantity("cSt", "Half of it")


@pytest.fixture
def builds(writer: Writer) -> None:
    """Builds of 7000, 7000, 7000 (by its bottle), 5000 and 30,000 cSt."""
    diff = writer.insert(BY_NAME["diff"], {"label": "rear-a"})
    fluid = writer.insert(BY_NAME["fluid"], {"label": "house 9k", "viscosity_cst": 9000.0})
    bottle = writer.insert(BY_NAME["bottle"], {"fluid": fluid, "lot": "one", "viscosity_cst": 7000.0})
    oils: list[dict[str, object]] = [
        {"viscosity_cst": 7000.0},
        {"viscosity_cst": 7000.0},
        {"viscosity_cst": 9000.0, "fluid": fluid, "bottle": bottle},
        {"viscosity_cst": 5000.0},
        {"viscosity_cst": 30_000.0},
    ]
    for number, oil in enumerate(oils, start=1):
        writer.insert(
            BY_NAME["build"], {"label": f"rear-a/{number}", "diff": diff, "built_on": f"2026-05-0{number}", **oil}
        )


def halving(seen: list[float]) -> Offered:
    """A calculator that notes what it was asked."""

    def half(given: Oil) -> Half:
        seen.append(given.viscosity_cst)
        return Half(half_cst=given.viscosity_cst * given.share_percent / 100)

    return Offered(declared(name="halving", given=Oil, found=Half, compute=half, answer="half_cst"), Origin("p", "1"))


@pytest.mark.usefixtures("builds")
def test_equal_inputs_of_equal_origin_are_worked_out_once_and_kept_for_each_record(
    connection: sqlite3.Connection,
) -> None:
    seen: list[float] = []
    report = batch(connection, halving(seen), BY_NAME["build"], {}, None, lambda: FIXED_NOW)
    assert sorted(seen) == [5000.0, 7000.0, 7000.0]
    assert (report.computed, report.new, report.left_out) == (4, 4, {"out of its bounds": 1})
    rows = connection.execute(
        "SELECT label, json_extract(found, '$.half_cst'), origins "
        "FROM calculations JOIN builds ON builds.id = subject_id ORDER BY label"
    ).fetchall()
    assert [(label, half, json.loads(origins)["viscosity_cst"]) for label, half, origins in rows] == [
        ("rear-a/1", 3500.0, "the build"),
        ("rear-a/2", 3500.0, "the build"),
        ("rear-a/3", 3500.0, "own measurement of the bottle"),
        ("rear-a/4", 2500.0, "the build"),
    ]


@pytest.mark.usefixtures("builds")
def test_a_text_that_cannot_be_read_leaves_out_every_record(connection: sqlite3.Connection) -> None:
    report = batch(connection, halving([]), BY_NAME["build"], {"share_percent": "many"}, None, lambda: FIXED_NOW)
    assert (report.computed, report.new) == (0, 0)
    assert report.left_out == {"not a number": 4, "out of its bounds": 1}


@pytest.mark.usefixtures("builds")
def test_a_store_value_out_of_the_inputs_bounds_is_refused_with_its_origin(connection: sqlite3.Connection) -> None:
    with pytest.raises(InputError) as refused:
        bind(halving([]).calculator, {}, {"builds.viscosity_cst": (30_000.0, "the build")})
    assert refused.value.found == "30000 (the build)"
    assert refused.value.wanted == "less than 20000 cSt"


def test_a_kept_result_has_the_uncertainty_of_both_parts_and_another_typed_one_is_another_result() -> None:
    offered = load().calculators["free-volume"]
    writer = RowWriter(offered, None, FIXED_NOW)
    texts = {"full_mass_g": "18.39", "density_g_cm3": "0.975", "temperature_c": "21"}
    kept = {}
    for dry in ("16.62", "16.62 ± 0.01 (k = 2)", "16.62 ± 0.02 (k = 1)"):
        row = writer.row(
            writer.tell(run(offered.calculator, bind(offered.calculator, {**texts, "dry_mass_g": dry}))), None, None
        )
        assert len(row) == len(COLUMNS)
        kept[row[0]] = dict(zip(COLUMNS, row, strict=True))
    assert len(kept) == 3
    spreads = [json.loads(str(one["found"]))["uncertainty_cm3"] for one in kept.values()]
    assert spreads == sorted(spreads)
    assert spreads[2] > 1.5 * spreads[0]
    for one, spread in list(zip(kept.values(), spreads, strict=True))[1:]:
        assert 2 * json.loads(str(one["uncertainties"]))["free_volume_cm3"] == pytest.approx(spread)
