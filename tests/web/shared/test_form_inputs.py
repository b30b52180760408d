"""How the inputs of a calculator are arranged as a form. The records named here are invented."""

from __future__ import annotations

from typing import Any

from bevelbook.plugin.registry import Registry
from bevelbook.web.shared.form_inputs import CalculatorForm, FormInput, form_of


def form(registry: Registry, name: str, texts: dict[str, Any] | None = None, **more: Any) -> CalculatorForm:
    calculator = registry.calculator(name).calculator
    known = more.pop("known", {})
    return form_of(calculator, texts or {}, known, **{"faults": {}, "asked": {}, "beside": {}, **more})


def named(form_input: FormInput) -> str:
    return form_input.name


def test_what_is_needed_is_seen_the_reading_first_and_the_rest_is_folded(registry: Registry) -> None:
    found = form(registry, "fill-target")
    assert list(map(named, found.first)) == ["reading_g", "dry_mass_g", "oil_mass_g"]
    assert [fold.line.partition(":")[0] for fold in found.folds] == ["Instead of the oil mass", "15 more inputs"]
    assert [fold.is_open for fold in found.folds] == [False, False]


def test_every_input_of_every_calculator_is_on_its_form_once(registry: Registry) -> None:
    for name, offered in registry.calculators.items():
        found = form(registry, name)
        placed = [*map(named, found.first), *(one.name for fold in found.folds for one in fold.inputs)]
        assert sorted(placed) == sorted(field.name for field in offered.calculator.inputs), name


def test_an_alternative_that_is_known_is_seen_in_place_of_the_first(registry: Registry) -> None:
    found = form(registry, "fill-target", known={"diffs.free_volume_cm3": (2.2, "diff, build rear-a/3")})
    assert list(map(named, found.first)) == ["reading_g", "dry_mass_g", "free_volume_cm3"]
    assert found.first[2].greyed == "2.2"
    assert found.first[2].origin == "2.2 cm³ from diff, build rear-a/3"
    assert found.folds[0].line == "Instead of the free volume: oil mass"
    begun = form(registry, "seal-swell", {"outside_diameter_mm": "5"})
    assert {"outside_diameter_mm", "measured_outside_diameter_mm"} <= set(map(named, begun.first))


def test_what_a_build_knows_is_greyed_with_its_origin_and_day(registry: Registry) -> None:
    dry = {"builds.dry_mass_g": (12.41, "build rear-a/3")}
    found = form(registry, "fill-target", known=dry, beside={"build rear-a/3": "built 3 May 2026"})
    assert (found.first[1].greyed, found.first[1].origin) == ("12.41", "12.41 g from build rear-a/3, built 3 May 2026")
    rows = {"listings.at_hand": ([{"viscosity_cst": 7000.0}, {"viscosity_cst": 10000.0}], "oils that are not used up")}
    labels = next(
        one for fold in form(registry, "same-feel", known=rows).folds for one in fold.inputs if one.name == "labels"
    )
    assert labels.greyed == "7000\n10000"


def test_a_fold_with_something_typed_faulty_or_asked_for_is_open(registry: Registry) -> None:
    typed = form(registry, "fill-target", {"scale_step_g": "0.1"})
    faulty = form(registry, "fill-target", faults={"viscosity_cst": "not a number"})
    asked = form(registry, "fill-target", asked={"density_g_cm3": "Needed."})
    for found in (typed, faulty, asked):
        assert found.folds[-1].is_open
    assert list(map(named, faulty.faulty)) == ["viscosity_cst"]
    assert typed.faulty == []


def test_a_number_has_a_keypad_and_a_sign_where_it_may_be_below_zero(registry: Registry) -> None:
    kinds = {one.name: one for fold in form(registry, "same-feel").folds for one in fold.inputs}
    kinds |= {one.name: one for one in form(registry, "same-feel").first}
    assert (kinds["temperature_now_c"].keypad, kinds["temperature_now_c"].signed) == ("decimal", True)
    assert (kinds["viscosity_cst"].keypad, kinds["viscosity_cst"].signed) == ("decimal", False)
    assert (kinds["basis"].keypad, kinds["labels"].keypad) == ("", "")
