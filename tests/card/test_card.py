"""The card of a build: what is known is on it with its origin, what is not is a box, nothing is guessed."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from html.parser import HTMLParser
from math import pi
from pathlib import Path

import pytest
from card_team import HOSTILE, make_bare_build, make_full_build
from conftest import FIXED_NOW, Outcome

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.keep import keep_result
from bevelbook.calculating.known import Subject, known_of
from bevelbook.card.all_fields_sheet import all_fields_sheet
from bevelbook.card.build_card import Card, CardSection, card_of
from bevelbook.card.html import all_fields_page, card_page, card_styles, whole_page
from bevelbook.card.procedure import procedure_from
from bevelbook.card.sheet_text import all_fields_lines
from bevelbook.card.text import card_lines
from bevelbook.formulas.rounded_up import rounded_up
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reference import RULES_FIRST, caution_in_words
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Outcome]


@pytest.fixture
def full(connection: sqlite3.Connection, writer: Writer) -> str:
    """A rebuild of which everything is known that records can hold."""
    return make_full_build(writer)


@pytest.fixture
def bare(connection: sqlite3.Connection, writer: Writer) -> str:
    """A build of which only the diff and the day are known."""
    return make_bare_build(writer)


def part_of(card: Card, key: str) -> CardSection:
    return next(part for part in card.parts if part.key == key)


def value_of(card: Card, key: str, name: str) -> tuple[str | None, str]:
    line = next(line for line in part_of(card, key).lines if line.name == name)
    return line.value, line.note


def keep_for(
    connection: sqlite3.Connection, registry: Registry, build: str, name: str, **texts: str | list[str]
) -> None:
    """Run a calculator for the build with some inputs by hand, and keep the result."""
    offered = registry.calculator(name)
    subject = Subject(BY_NAME["build"], build, build)
    bound = bind(offered.calculator, texts, known_of(connection, offered.calculator, [subject]))
    keep_result(connection, offered, run(offered.calculator, bound), subject, "ana", FIXED_NOW)


def test_the_stop_mass_with_what_the_scale_can_tell(
    connection: sqlite3.Connection, registry: Registry, full: str
) -> None:
    """9.52 g and 1.50 g are 11.02 g. Window: U = 2 sqrt(0.01^2/6 + 2 x 0.005^2 + 0.01^2/3) g = 0.02 g (GUM)."""
    card = card_of(connection, registry, full)
    assert (card.stop.mass_g, card.stop.low_g, card.stop.high_g) == ("11.02", "11.00", "11.04")
    assert card.stop.result.verdict == "ok"
    assert value_of(card, "masses", "Dry mass") == ("9.52 g", "")
    assert value_of(card, "masses", "Scale") == ("bench, steps of 0.01 g", "")


def test_the_stop_mass_has_no_more_digits_than_the_scale(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    writer.update(BY_NAME["scale"], connection.execute("SELECT id FROM scales").fetchone()[0], {"step_g": 0.1})
    card = card_of(connection, registry, full)
    assert card.stop.mass_g == "11.0"
    assert card.stop.low_g is not None
    assert len(card.stop.low_g.partition(".")[2]) == 1


def test_the_oil_with_its_origin(connection: sqlite3.Connection, registry: Registry, full: str) -> None:
    card = card_of(connection, registry, full)
    assert value_of(card, "oil", "Oil") == ("7k own label", "")
    assert value_of(card, "oil", "Bottle")[0] == "B2"
    shown = value_of(card, "oil", "Viscosity at 25 °C")
    assert shown == ("6,970 ± 300 cSt (k = 2)", "own measurement of the bottle, 2026-04-20")


@pytest.mark.parametrize(
    ("changes", "shown"),
    [
        ({"bottle": None}, ("7,000 cSt", "its label")),
        ({"bottle": None, "viscosity_cst": 6500.0, "viscosity_from": "note"}, ("6,500 cSt", "note")),
        ({"bottle": None, "viscosity_cst": 6500.0}, ("6,500 cSt", "the build")),
    ],
)
def test_the_viscosity_of_the_nearest_record_that_knows_it(
    connection: sqlite3.Connection,
    registry: Registry,
    writer: Writer,
    full: str,
    changes: dict[str, object],
    shown: tuple[str, str],
) -> None:
    writer.update(BY_NAME["build"], full, changes)
    assert value_of(card_of(connection, registry, full), "oil", "Viscosity at 25 °C") == shown


def test_a_blend_is_computed_and_said_to_be(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, bare: str
) -> None:
    """Half and half of 5,000 and 10,000 cSt by mass: the square root of 5,000 x 10,000, 7,071 cSt (log rule)."""
    for viscosity_cst in (5000.0, 10000.0):
        writer.insert(BY_NAME["blend_part"], {"build": bare, "viscosity_cst": viscosity_cst, "mass_g": 10.0})
    card = card_of(connection, registry, bare)
    assert value_of(card, "oil", "Blend")[0] == "10 g of 5,000 cSt + 10 g of 10,000 cSt"
    assert value_of(card, "oil", "Viscosity at 25 °C") == ("7,071 cSt", "computed from its blend")
    assert part_of(card, "bubbles").results[0].verdict == "ok"


def test_room_for_heat_at_the_hot_temperature(connection: sqlite3.Connection, registry: Registry, full: str) -> None:
    """By hand: ideal gas in a housing of 30e-6 per K, oil of 9.2e-4 per K, closed at 20 °C and hot at 60 °C."""
    fill = 1.50 / (0.975 / (1 + 9.2e-4 * (20 - 25)) * 1.82)
    growth = (1 + 9.2e-4 * 35) / (1 - 9.2e-4 * 5)
    hot = 101.325 * 333.15 / 293.15 * (1 - fill) / (1 + 3 * 30e-6 * 40 - fill * growth)
    result = part_of(card_of(connection, registry, full), "heat").results[0]
    assert result.verdict == "ok"
    assert f"at most {rounded_up(hot - 101.325)} kPa above the air outside at 60 °C" in " ".join(result.reasons)
    assert value_of(card_of(connection, registry, full), "heat", "Hot") == ("60 °C", "assumed, not measured")


def test_time_for_bubbles_with_the_vacuum_that_was_given_once(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    """29.07 to 43.61 s, cleared from 0.85 mm up: t = 18 nu h / (m g d^2) (p/p0)^(2/3), speed from fluids 1.3.1."""
    writer.update(BY_NAME["bottle"], connection.execute("SELECT id FROM bottles").fetchone()[0], {"viscosity_cst": 7e3})
    keep_for(connection, registry, full, "degas", temperature_c="25", absolute_kpa="20")
    result = part_of(card_of(connection, registry, full), "bubbles").results[0]
    assert "29 to 44 s at 20 kPa absolute" in result.reasons[0]
    assert "bubbles from 0.85 mm up clear" in result.reasons[1]
    assert result.given == "temperature, absolute as given on 2026-05-04"


def test_the_record_overrides_what_was_given_once(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    keep_for(connection, registry, full, "fill-target", dry_mass_g="9.40", oil_temperature_c="30")
    card = card_of(connection, registry, full)
    assert card.stop.mass_g == "11.02"
    assert card.stop.result.given == "oil temperature as given on 2026-05-04"


def test_shims_as_fitted_and_as_computed(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    """0.42 mm of float, 0.10 wanted: 0.30 leaves 0.12 and 0.35 leaves 0.07, of 0.30 and 0.1 + 0.2 the one piece."""
    card = card_of(connection, registry, full)
    assert value_of(card, "shim stack", "Behind case-side gear") == ("1 × 0.20 mm", "")
    assert value_of(card, "shim stack", "Behind lid-side gear") == ("1 × 0.20 + 2 × 0.10 mm", "= 0.4 mm")
    assert value_of(card, "shim stack", "Small gears") == ("1 × 0.20 + 1 × (-0.05) mm", "= 0.15 mm")
    assert value_of(card, "shim stack", "Float without shims")[0] is None
    sizes = ["0.1", "0.15", "0.2", "0.3", "0.5", "1.0"]
    keep_for(connection, registry, full, "shims", float_mm="0.42", target_float_mm="0.10", sizes=sizes)
    result = part_of(card_of(connection, registry, full), "shim stack").results[0]
    assert result.reasons[0] == "fit 1 of 0.3 mm: float 0.12 mm, wanted 0.10 mm"


def test_shims_whose_count_is_not_known_are_not_summed(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, bare: str
) -> None:
    writer.insert(BY_NAME["build_shim"], {"build": bare, "place": "small gears", "thickness_mm": 0.1, "pieces": None})
    assert value_of(card_of(connection, registry, bare), "shim stack", "Small gears") == ("? × 0.10 mm", "")


def test_seals_with_their_verdicts_and_what_has_to_be_measured(
    connection: sqlite3.Connection, registry: Registry, full: str
) -> None:
    """(20.6 / 20)^3 - 1 = 9.3 %. A ring of 2 mm in a groove of 1.7 by 2.6 mm: 15 % squeeze, pi / (1.7 x 2.6) fill."""
    card = card_of(connection, registry, full)
    seals = part_of(card, "seals")
    assert [line.value for line in seals.lines] == [
        "lid ring 18x1, used, ok",
        "shaft ring 5x2, used",
        "shaft ring 5x2, new",
    ]
    by_title = {result.title: result for result in seals.results}
    swell = by_title["Joint, seal swell"]
    assert swell.verdict == "caution", "outside the -5 to +5 % of a lubricant maker"
    assert "grown 9.3 % " in " ".join(swell.reasons)
    assert by_title["Case-side shaft, seal swell"].lacking == ("measured outside diameter",)
    groove = by_title["Case-side shaft and lid-side shaft, o-ring groove"]
    assert f"15.0 % of its section; fills {100 * pi / (1.7 * 2.6):.0f} % of the groove" in groove.reasons[0]
    assert "Lid-side shaft, seal swell" not in by_title


def test_screws_with_picture_and_passes(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    """Four screws: 1-3-2-4, the published order. 0.20 and 0.90 N·m measured: 0.2 + 0.3 x 0.7 = 0.41 N·m."""
    screws = part_of(card_of(connection, registry, full), "screws")
    assert screws.picture_words == "1-3-2-4"
    assert screws.picture is not None
    assert screws.picture.startswith("<svg")
    assert screws.lines[0].value == "4, M2.5, blind"
    assert len(screws.listed) == 4
    keep_for(connection, registry, full, "tightening", drive_torque_nm="0.20", strip_torque_nm="0.90")
    screws = part_of(card_of(connection, registry, full), "screws")
    assert screws.listed[-1].endswith("0.41 N·m")


def test_the_torque_of_the_build_is_taken_and_doubted_where_it_has_no_source(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    writer.update(BY_NAME["build"], full, {"screw_torque_nm": 0.35})
    result = part_of(card_of(connection, registry, full), "screws").results[0]
    assert result.verdict == "caution"
    assert "neither a source nor a measured strip torque" in result.reasons[0]


def test_what_is_missing_is_a_box_with_its_name(connection: sqlite3.Connection, registry: Registry, bare: str) -> None:
    card = card_of(connection, registry, bare)
    assert card.stop.mass_g is None
    assert card.stop.result.lacking == ("dry mass", "oil mass")
    assert part_of(card, "bubbles").results[0].lacking == ("viscosity",)
    assert part_of(card, "heat").results[0].lacking == ("oil mass",)
    screws = part_of(card, "screws")
    assert screws.results[0].lacking == ("screw count",)
    assert (screws.picture, screws.picture_words, screws.listed) == (None, "", ())
    assert all(line.value is None for key in ("shim stack", "seals") for line in part_of(card, key).lines)
    assert card.verdicts == ()
    text = "\n".join(card_lines(card))
    assert "STOP POURING AT ________ g" in text
    assert "still to be measured: viscosity ________" in text
    assert re.search(r"\d[.,]?\d* cSt", text) is None


def test_a_room_that_is_known_gives_the_oil_by_its_share(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    """85 % of 1.82 cm3 at 0.975 g/cm3 (25 °C), filled at 20 °C: 1.82 x 0.85 x 0.975 x 1.0046 g, about 1.51 g."""
    writer.update(BY_NAME["build"], full, {"oil_mass_g": None})
    card = card_of(connection, registry, full)
    oil_mass_g = 1.82 * 0.85 * 0.975 / (1 + 9.2e-4 * (20 - 25))
    assert value_of(card, "masses", "Oil to put in") == (f"{oil_mass_g:.2f} g", "85 % of the room")
    assert card.stop.mass_g == f"{9.52 + oil_mass_g:.2f}"


def test_everything_appears_once(connection: sqlite3.Connection, registry: Registry, full: str, bare: str) -> None:
    """A known value is in the parts, an unknown one is asked for at its step."""
    known = [blank.name for step in card_of(connection, registry, full).steps for blank in step.blanks]
    assert "dry mass" not in known
    assert "filled mass" in known
    asked = [blank.name for step in card_of(connection, registry, bare).steps for blank in step.blanks]
    assert "dry mass" in asked
    assert not any(line.name == "Dry mass" for part in card_of(connection, registry, bare).parts for line in part.lines)


def test_what_is_new_is_different_and_what_is_used_again_is_not(
    connection: sqlite3.Connection, registry: Registry, writer: Writer
) -> None:
    """The joint seal was new before too, and is another one now; the cross pin was not noted before."""
    build = make_full_build(writer)
    before = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/1'").fetchone()[0]
    connection.execute("DELETE FROM seal_fittings")
    connection.execute("DELETE FROM build_parts")
    for one in (before, build):
        writer.insert(BY_NAME["seal_fitting"], {"build": one, "place": "joint", "condition": "new"})
    for part, condition in (("cross pin", "used"), ("outdrive", "used"), ("side gear", "new")):
        writer.insert(BY_NAME["build_part"], {"build": build, "part": part, "condition": condition})
    different = card_of(connection, registry, build).different
    assert different[0] == "new: side gear, joint seal"
    assert not any("cross pin" in line or "outdrive" in line for line in different)


def test_what_goes_in_and_what_is_different_is_said_at_the_top(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str, bare: str
) -> None:
    before = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/1'").fetchone()[0]
    writer.update(BY_NAME["build"], before, {"viscosity_cst": 5000.0, "oil_mass_g": 1.53})
    card = card_of(connection, registry, full)
    assert card.oil == "1.50 g put in, 7k own label, 6,970 ± 300 cSt (k = 2)"
    assert card.before == "rear-a/1"
    assert card.different == (
        "new: lid-side shaft seal",
        "oil: 7k own label, bottle B2, 6,970 cSt, was 5,000 cSt",
        "oil mass: 1.50 g, was 1.53 g",
    )
    assert "Different from rear-a/1:" in "\n".join(card_lines(card))
    first = card_of(connection, registry, bare)
    assert (first.oil, first.different, first.before) == ("", (), "")


@pytest.mark.parametrize(
    ("masses", "said"),
    [
        ({"target_oil_mass_g": 1.86}, "1.86 g to put in, "),
        ({"target_oil_mass_g": 1.86, "oil_mass_g": 1.86}, "1.86 g put in, "),
        ({"target_oil_mass_g": 1.86, "oil_mass_g": 1.2}, "1.20 g put in (1.86 g to put in), "),
        (
            {"target_oil_mass_g": 1.86, "dry_mass_g": 12.41, "filled_mass_g": 13.61},
            "1.20 g put in (1.86 g to put in), ",
        ),
        ({"target_oil_mass_g": 1.86, "filled_mass_g": 13.61}, "1.86 g to put in, "),
        ({"dry_mass_g": 12.41, "filled_mass_g": 14.27}, "1.86 g put in, "),
    ],
)
def test_the_oil_at_the_top_says_whether_it_is_in_and_whether_it_is_what_was_to_go_in(
    connection: sqlite3.Connection,
    registry: Registry,
    writer: Writer,
    bare: str,
    masses: dict[str, float],
    said: str,
) -> None:
    """12.41 + 1.20 = 13.61 and 12.41 + 1.86 = 14.27 by hand."""
    writer.update(BY_NAME["build"], bare, {"viscosity_cst": 7000.0, **masses})
    assert card_of(connection, registry, bare).oil == f"{said}7,000 cSt"


def test_the_strip_for_pouring_ends_at_the_stop_mass(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str, bare: str
) -> None:
    """9.52 g dry and 1.50 g of oil: 10.82 g is 0.20 g short, with the scale zeroed on the diff 1.30 g."""
    strip = card_of(connection, registry, full).pouring
    assert ("10.82", "1.30", "0.20", False, False) in strip.lines
    assert strip.lines[0][:3] == ("9.52", "0.00", "1.50")
    assert strip.lines[-1] == ("11.02", "1.50", "stop", True, True)
    text = "\n".join(card_lines(card_of(connection, registry, full)))
    assert re.search(r"10\.82 +1\.30 +0\.20\n", text)
    empty = card_of(connection, registry, bare)
    assert {line[:2] for line in empty.pouring.lines} == {(None, None)}
    assert "<td></td><td></td><td>0.20</td>" in card_page(empty)
    writer.update(BY_NAME["build"], bare, {"target_oil_mass_g": 1.86})
    to_come = card_of(connection, registry, bare)
    assert to_come.stop.mass_g is None
    assert to_come.how_to_stop == "dry mass + 1.86 g; zeroed on the diff: 1.86 g"
    assert f"STOP POURING AT ________ g   {to_come.how_to_stop}" in "\n".join(card_lines(to_come))
    assert to_come.pouring.lines[-1] == (None, "1.86", "stop", True, True), "the dry mass is not known yet"


def test_where_a_value_is_from_is_short_on_paper_and_whole_on_the_screen(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    diff = connection.execute("SELECT id FROM diffs").fetchone()[0]
    whole = "overfilled, lid laid on by hand, wiped and weighed"
    writer.update(BY_NAME["diff"], diff, {"free_volume_from": whole})
    page = card_page(card_of(connection, registry, full))
    assert f'<small class="no-paper">{whole}</small>' in page
    assert '<small class="on-paper"> overfilled, lid laid on by hand, …</small>' in page


def test_ticks_can_be_ticked_and_are_not_kept(connection: sqlite3.Connection, registry: Registry, full: str) -> None:
    card = card_of(connection, registry, full)
    page = card_page(card)
    for step in card.steps:
        assert f'<input type="checkbox" autocomplete="off" aria-label="{step.number} ' in page
    assert page.count('type="checkbox"') > len(card.steps) + len(part_of(card, "screws").listed)
    assert "Ticks are not kept" in page


def test_what_a_person_has_to_heed_is_not_folded_away(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    writer.update(BY_NAME["build"], full, {"squeeze_out": "runs out", "oil_mass_g": 1.70})
    card = card_of(connection, registry, full)
    page = " ".join(card_page(card).split())
    for part in card.parts:
        for result in part.results:
            if result.verdict in ("stop", "caution", "unclear"):
                before = page.split(f"<b>{result.title}:</b>")[0]
                assert before.rfind('<p class="no-paper">') > before.rfind('<div class="how">')


def test_the_opening_of_the_build_before_is_at_its_steps(
    connection: sqlite3.Connection, registry: Registry, full: str
) -> None:
    steps = {step.key: step for step in card_of(connection, registry, full).steps}
    found = {blank.name: blank.value for blank in steps["look-where-wet"].blanks}
    assert found == {"leak place": "lid-side shaft", "leak amount": "drops"}
    assert {blank.name: blank.value for blank in steps["weigh-closed-before"].blanks}["closed mass"] == "18.16 g"


def test_a_closed_weighing_on_the_day_of_the_opening_is_the_mass_before_it(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    (opening, before) = connection.execute("SELECT id, build FROM openings").fetchone()
    writer.update(BY_NAME["opening"], opening, {"closed_mass_g": None})
    weighing = {"build": before, "weighed_on": "2026-05-03", "mass_g": 18.14, "mass_basis": "closed"}
    writer.insert(BY_NAME["weighing"], weighing)
    steps = {step.key: step for step in card_of(connection, registry, full).steps}
    blanks = {blank.name: blank.value for blank in steps["weigh-closed-before"].blanks}
    assert (blanks["closed mass"], blanks["mass"]) == ("18.14 g", None)


def test_a_build_that_leaks_says_what_it_lost_and_one_that_does_not_says_nothing(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    """14.26 g filled less 13.86 g after 8 runs is 0.40 g, 22 % of 1.86 g: more than any limit of 10 %."""
    for words in (
        "diff label=rear-a",
        "build diff=rear-a built_on=2026-05-01 dry_mass=12.40 filled_mass=14.26 oil_mass=1.86 closed_mass=14.26",
        "run run_on=2026-05-02 label=one rear=rear-a runs=8",
    ):
        assert bevelbook("--db", db, "record", *words.split()).code == 0
    assert "OIL LOST" not in bevelbook("--db", db, "card", "rear-a").out
    weighed = ("weighing", "build=rear-a/1", "weighed_on=2026-05-02", "mass=13.86", "runs=8")
    assert bevelbook("--db", db, "record", *weighed).code == 0
    said = "lost 0.40 g of 1.86 g (22 %) by run 8: stop"
    assert f"OIL LOST: {said}" in " ".join(bevelbook("--db", db, "card", "rear-a").out.split())
    page = tmp_path / "card.html"
    bevelbook("--db", db, "card", "rear-a", "--html", page)
    drawn = page.read_text(encoding="utf-8")
    assert f"<strong>Oil lost:</strong> {said}" in drawn
    assert drawn.index("diff rear-a") < drawn.index("Oil lost:</strong>") < drawn.index("Stop pouring at")
    opened = ("opening", "build=rear-a/1", "opened_on=2026-05-03", "reason=leak", "leak_place=joint")
    assert bevelbook("--db", db, "record", *opened).code == 0
    assert (
        bevelbook("--db", db, "card", "rear-a", "--json")
        .json["leak"]
        .endswith("stop; leak found when it was opened (joint)")
    )


def test_what_was_carried_over_is_said_to_be(connection: sqlite3.Connection, registry: Registry, full: str) -> None:
    assert value_of(card_of(connection, registry, full), "masses", "On the scale") == (
        "open half",
        "carried over from rear-a/1",
    )


def test_a_caution_is_in_full_at_its_first_step(connection: sqlite3.Connection, registry: Registry, bare: str) -> None:
    card = card_of(connection, registry, bare)
    by_step = {step.key: step.cautions for step in card.steps}
    (first,) = by_step["cut-flash"]
    assert (first.text, first.said_at) == (caution_in_words("knife"), None)
    (again,) = by_step["seals"]
    assert again.said_at == next(step.number for step in card.steps if step.key == "cut-flash")
    assert again.in_full == caution_in_words("knife")


def test_every_usual_caution_is_where_the_work_is(
    connection: sqlite3.Connection, registry: Registry, bare: str
) -> None:
    card, sheet = card_of(connection, registry, bare), all_fields_sheet()
    wanted = {
        "cut-flash": "knife",
        "open": "screw-driving",
        "weigh-closed-before": "lipo",
        "draw-bubbles": "vacuum-vessel",
        "clean": "solvent",
        "screws": "thread-lock",
        "fill": "oil-on-skin",
        "lid-on": "oil-on-floor",
        "note-what-is-found": "waste-oil",
    }
    steps = {step.key: [caution.text for caution in step.cautions] for step in card.steps}
    for step, key in wanted.items():
        assert caution_in_words(key) in steps[step]
    said = {text for texts in steps.values() for text in texts}
    for key in ("compressed-air", "hot-parts", "oil-in-eye"):
        assert caution_in_words(key) in said
    assert caution_in_words("scope") in card.cautions
    pits = {text for group in sheet.groups for text in group.cautions}
    assert {caution_in_words(key) for key in ("lipo", "hot-parts", "wheels-on-stand", "oil-on-floor")} <= pits
    assert card.rule == sheet.rule == RULES_FIRST


def test_without_any_calculator_the_stop_mass_and_the_blend_stand_all_the_same(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str, bare: str
) -> None:
    card, whole = card_of(connection, Registry(), full), card_of(connection, registry, full)
    assert card.stop == whole.stop
    assert card.stop.mass_g == "11.02"
    assert value_of(card, "oil", "Oil")[0] == "7k own label"
    assert all(part.results == () for part in card.parts)
    assert "no calculator leak-trend is loaded" in " ".join(" ".join(card_lines(card)).split())
    assert "is unclear" not in card_page(card)
    for viscosity_cst in (5000.0, 10000.0):
        writer.insert(BY_NAME["blend_part"], {"build": bare, "viscosity_cst": viscosity_cst, "mass_g": 10.0})
    card = card_of(connection, Registry(), bare)
    assert value_of(card, "oil", "Viscosity at 25 °C") == ("7,071 cSt", "computed from its blend")


def test_a_record_that_a_formula_cannot_take_is_explained_not_raised(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    """A ring of 2 mm section does not go into a groove 0.5 mm deep and 2.6 mm wide."""
    ring = connection.execute("SELECT id FROM seals WHERE label = 'shaft ring 5x2'").fetchone()[0]
    writer.update(BY_NAME["seal"], ring, {"groove_depth_mm": 0.5})
    refused = [
        result.refused for result in part_of(card_of(connection, registry, full), "seals").results if result.refused
    ]
    assert any("shallower than a section" in one for one in refused)


def test_an_own_procedure_gives_the_steps(connection: sqlite3.Connection, registry: Registry, full: str) -> None:
    own = procedure_from(
        'title: "Ours"\nsteps:\n  - key: "pour"\n    title: "Pour"\n    do: "Slowly."\n'
        '    write_down: ["colour of the oil", "builds.filled_mass_g"]\n    calculators: ["no-such-thing"]\n'
        '    cautions: ["Mind the cat."]\n',
        "ours.yaml",
    )
    card = card_of(connection, registry, full, own)
    (step,) = card.steps
    assert [blank.name for blank in step.blanks] == ["colour of the oil", "filled mass"]
    assert step.cautions[0].text == "Mind the cat."
    assert "no calculator no-such-thing is loaded" in step.see[0]


class Tags(HTMLParser):
    """What elements and attributes a page has."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def test_hostile_text_is_shown_as_text(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    writer.update(BY_NAME["build"], full, {"note": HOSTILE, "label": HOSTILE[:200], "degassing": HOSTILE})
    writer.update(BY_NAME["fluid"], connection.execute("SELECT id FROM fluids").fetchone()[0], {"label": HOSTILE})
    writer.update(BY_NAME["diff"], connection.execute("SELECT id FROM diffs").fetchone()[0], {"screw_size": HOSTILE})
    card = card_of(connection, registry, full)
    page = Tags(whole_page(card.build, card_page(card)))
    assert not {"script", "img", "iframe", "link", "a", "object", "form"} & page.tags
    assert not {"onerror", "onload", "src", "href"} & page.attributes
    assert "<script>" in "".join(page.words)
    assert "\x1b" not in "".join(page.words) + "\n".join(card_lines(card))
    assert len(card_page(card)) < 60_000


def test_a_page_fetches_nothing_and_needs_no_colour(
    connection: sqlite3.Connection, registry: Registry, full: str
) -> None:
    for page in (card_page(card_of(connection, registry, full)), all_fields_page(all_fields_sheet())):
        whole = whole_page("x", page)
        assert re.findall(r"url\(|@import|https?://(?!www\.w3\.org/2000/svg)", whole) == []
        assert not {"script", "img", "link"} & Tags(whole).tags
    assert {len(set(one)) for one in re.findall(r"#([0-9a-f]{3,6})\b", card_styles())} == {1}


def test_a_verdict_is_a_word_beside_its_sign(
    connection: sqlite3.Connection, registry: Registry, writer: Writer, full: str
) -> None:
    writer.update(BY_NAME["build"], full, {"squeeze_out": "runs out", "oil_mass_g": 1.70})
    card = card_of(connection, registry, full)
    assert "stop" in card.verdicts
    assert re.search(r"</svg>stop</span>", card_page(card))
    assert "STOP: " in "\n".join(card_lines(card))


def test_the_sheet_with_all_fields_holds_every_field_of_a_run_once() -> None:
    """When a temperature was taken is written as the time after the run; the same in words, and the
    column of a place that it was written in, are for old notes.
    """
    sheet = all_fields_sheet()
    names = [entry.name for group in sheet.groups for entry in group.entries]
    assert len(names) == len(set(names))
    fields = {field.name for field in BY_NAME["run"].fields} - {"label"}
    assert {name for name in names if "." not in name} == fields
    of_diff = {field.name for field in BY_NAME["run_diff"].fields} - {"run", "position", "temp_taken", "temp_place"}
    assert {name.partition(".")[2] for name in names if "." in name} == of_diff
    assert [group.title for group in sheet.groups][:3] == ["The day", "Before the run", "As it comes in"]
    assert names[:9] == [
        *("run_on", "event", "venue", "car", "driver", "noted_by"),
        *("day_order", "started_at", "surface_state"),
    ]
    before = [entry.name for entry in sheet.groups[1].entries]
    place = before.index("track_temp_c")
    assert before[place + 1 : place + 5] == ["front.build", "centre.build", "rear.build", "tyres"]
    assert names[-2:] == ["call", "note"]
    text = "\n".join(all_fields_lines(sheet))
    assert "[ ] low [ ] medium [ ] high" in text
    assert "Track [°C]" in text


def committed(db: Path) -> None:
    """A full build in a database of its own, for the command."""
    connection = open_for_writing(db)
    with transaction(connection, db):
        make_full_build(Writer(connection, "ana", lambda: FIXED_NOW))
    connection.close()


def test_the_command_prints_the_card_of_a_build_or_of_a_diffs_last_build(bevelbook: Run, db: Path) -> None:
    committed(db)
    done = bevelbook("--db", db, "card", "rear-a/2")
    assert done.code == 0
    assert "STOP POURING AT 11.02 g   anything from 11.00 to 11.04 g is fine" in done.out
    assert max(map(len, done.out.splitlines())) <= 100
    assert bevelbook("--db", db, "card", "rear-a").out == done.out
    data = bevelbook("--db", db, "card", "rear-a", "--json").json
    assert (data["stop"]["mass_g"], data["stop"]["result"]["verdict"]) == ("11.02", "ok")
    assert all(set(part) >= {"lines", "results"} for part in data["parts"])


def test_the_command_ends_with_1_on_a_stop(bevelbook: Run, db: Path) -> None:
    committed(db)
    bevelbook("--db", db, "record", "build", "rear-a/2", "squeeze_out=runs out")
    assert bevelbook("--db", db, "card", "rear-a").code == 1


def test_the_command_writes_a_page_over_its_own_only(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    committed(db)
    page = tmp_path / "card.html"
    for _ in range(2):
        done = bevelbook("--db", db, "card", "rear-a", "--html", page)
        assert (done.code, done.out) == (0, f"Wrote the card of rear-a/2 to {page}.\n")
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    other = tmp_path / "notes.html"
    other.write_text("<p>mine</p>", encoding="utf-8")
    for target in (other, db, tmp_path / "nowhere" / "card.html"):
        before = target.read_bytes() if target.exists() else None
        done = bevelbook("--db", db, "card", "rear-a", "--html", target)
        assert done.code == 2
        assert "--html" in done.err
        assert (target.read_bytes() if target.exists() else None) == before


def test_the_run_sheet_needs_no_database(bevelbook: Run, tmp_path: Path) -> None:
    assert "RUN SHEET" in bevelbook("card", "--run-sheet").out.upper()
    page = tmp_path / "sheet.html"
    for words in (("--run-sheet",), ("--run-sheet", "--all-fields")):
        assert bevelbook("card", *words, "--html", page).code == 0
    assert "What was decided after it" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["card"], "Name a build"),
        (["card", "rear-a", "--run-sheet"], "takes neither"),
        (["card", "reer-a/2"], "there is no build named"),
        (["card", "rear-a", "--html", "."], "Is a directory"),
    ],
)
def test_wrong_use_is_explained(bevelbook: Run, db: Path, words: list[str], said: str) -> None:
    committed(db)
    done = bevelbook("--db", db, *words)
    assert done.code == 2
    assert said in done.err


def test_help_lists_it(bevelbook: Run) -> None:
    assert "card" in bevelbook("--help").out
    assert "--run-sheet" in bevelbook("card", "--help").out
