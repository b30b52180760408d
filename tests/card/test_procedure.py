"""The steps of a build: whole, in order, and naming only what there is."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from bevelbook.calculating.binding import check_same_as
from bevelbook.card.procedure import FILE, bundled_procedure, procedure_from, steps_for
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reference import BUNDLED, caution_in_words, citations, read_text

PROCEDURE: dict[str, Any] = yaml.safe_load(read_text(BUNDLED, "procedure.yaml"))
STEPS: list[dict[str, Any]] = PROCEDURE["steps"]
ORDER = [step["key"] for step in STEPS]


def test_steps_are_in_the_order_of_a_build() -> None:
    """Common practice, no source."""
    assert ORDER == [
        "weigh-closed-before",
        "look-where-wet",
        "open",
        "note-what-is-found",
        "weigh-open",
        "clean",
        "dry",
        "lay-out-and-count",
        "cut-flash",
        "seals",
        "shims",
        "outdrives",
        "turn-each-side",
        "bevel-gears",
        "gears-in",
        "gasket",
        "weigh-dry",
        "fill",
        "draw-bubbles",
        "weigh-again",
        "lid-seal",
        "lid-on",
        "screws",
        "turn-by-hand",
        "wipe",
        "weigh-closed-after",
        "rest-on-paper",
    ]


@pytest.mark.parametrize("step", STEPS, ids=ORDER)
def test_every_step_says_what_to_do_check_and_write_down(step: dict[str, Any]) -> None:
    needed = {"key", "title", "do", "check", "write_down", "calculators", "cautions"}
    assert needed <= set(step) <= needed | {"for", "when", "screen", "place", "waits"}
    for name in ("key", "title", "do", "check"):
        assert isinstance(step[name], str)
        assert step[name]
    assert step["do"].endswith(".")
    assert step["check"].endswith(".")
    if "place" in step:
        assert step["place"] in BY_NAME["seal_fitting"].field("place").choices


@pytest.mark.parametrize("step", STEPS, ids=ORDER)
def test_what_is_written_down_has_a_column(step: dict[str, Any]) -> None:
    for column in step["write_down"]:
        check_same_as(column)


@pytest.mark.parametrize("step", [PROCEDURE, *STEPS], ids=["procedure", *ORDER])
def test_cautions_are_in_the_table(step: dict[str, Any]) -> None:
    for key in step["cautions"]:
        assert " " not in key
        assert caution_in_words(key).endswith(".")


def test_calculators_of_the_steps_exist(registry: Registry) -> None:
    for step in STEPS:
        for name in step["calculators"]:
            assert registry.calculator(name).calculator.name == name


def test_dangerous_work_has_its_caution() -> None:
    by_key = {step["key"]: step["cautions"] for step in STEPS}
    for key, caution in (
        ("weigh-closed-before", "lipo"),
        ("weigh-closed-before", "hot-parts"),
        ("open", "screw-driving"),
        ("clean", "solvent"),
        ("clean", "compressed-air"),
        ("cut-flash", "knife"),
        ("fill", "oil-in-eye"),
        ("fill", "oil-on-skin"),
        ("draw-bubbles", "vacuum-vessel"),
        ("screws", "thread-lock"),
        ("wipe", "waste-oil"),
    ):
        assert caution in by_key[key]
    assert "oil-on-floor" in PROCEDURE["cautions"]


def test_the_kind_of_build_drops_steps() -> None:
    """Common practice, no source."""
    procedure = bundled_procedure()
    keys = {
        kind: [step.key for step in steps_for(procedure, kind, gears_are_new=False)]
        for kind in ("new", "rebuild", "oil change", "top-up")
    }
    before = ["weigh-closed-before", "look-where-wet", "open", "note-what-is-found"]
    assert keys["new"] == [key for key in ORDER if key not in (*before, "weigh-open")]
    assert keys["rebuild"] == [key for key in ORDER if key not in ("cut-flash", "weigh-open")]
    assert "cut-flash" in [step.key for step in steps_for(procedure, "rebuild", gears_are_new=True)]
    inside = ("lay-out-and-count", "shims", "outdrives", "turn-each-side", "bevel-gears", "gears-in")
    assert keys["oil change"] == [key for key in keys["rebuild"] if key not in inside]
    assert keys["top-up"] == [
        "weigh-closed-before",
        "open",
        "weigh-open",
        "fill",
        "weigh-again",
        "lid-seal",
        "lid-on",
        "screws",
        "wipe",
        "weigh-closed-after",
    ]


def test_drying_standing_and_resting_are_waiting() -> None:
    """Common practice, no source."""
    waiting = [step.key for step in bundled_procedure().steps if step.waits]
    assert waiting == ["dry", "draw-bubbles", "rest-on-paper"]


def test_procedure_says_that_it_is_common_practice() -> None:
    assert PROCEDURE["status"] == "common practice, no source"
    assert citations()[PROCEDURE["source"]].kind == "common practice"


def test_the_bundled_file_is_one_that_a_team_could_have_written() -> None:
    """It is read by another parser than a team's own."""
    assert bundled_procedure() == procedure_from(read_text(BUNDLED, FILE), FILE)
