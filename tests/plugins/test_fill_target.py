"""``fill-target`` and ``free-volume`` against what is printed elsewhere."""

from __future__ import annotations

from typing import Any

import pytest

from bevelbook.calculating.calculate import Result, bind, run
from bevelbook.calculating.result_text import result_lines
from bevelbook.declare.errors import InputError
from bevelbook.physics.weighing import difference_uncertainty_g, smallest_difference_seen_g
from bevelbook_plugins.fill_target import FILL_TARGET
from bevelbook_plugins.free_volume import FREE_VOLUME


def filled(**texts: str) -> Result:
    return run(FILL_TARGET, bind(FILL_TARGET, {"dry_mass_g": "12.40 g", "oil_mass_g": "1.86 g", **texts}))


def test_nine_and_a_half_grams_dry_and_one_and_a_half_of_oil_stop_at_eleven() -> None:
    """Common practice, no source."""
    result = filled(dry_mass_g="9.5 g", oil_mass_g="1.5 g", reading_g="10.99")
    assert result.outputs["stop_mass_g"] == 11.0
    assert (result.outputs["stop_low_g"], result.outputs["stop_high_g"]) == (10.98, 11.02)
    assert result.verdict == "ok"


@pytest.mark.parametrize("typed", [("12400 mg", "1,86 g"), ("12.4", "1860mg"), ("0.0124 kg", "1.86")])
def test_the_unit_typed_does_not_change_the_answer(typed: tuple[str, str]) -> None:
    assert filled(dry_mass_g=typed[0], oil_mass_g=typed[1]).outputs["stop_mass_g"] == pytest.approx(14.26, abs=1e-9)


@pytest.mark.parametrize(
    ("step", "repeatability", "error", "expanded"),
    # JCGM 100:2008, F.2.2.1: a step of the display is a rectangular width, u = step / sqrt(12). Expected values
    # computed with uncertainties 3.2.3, GTC 1.5.1 and metrolopy 1.1.1, and by Monte Carlo.
    [(0.01, 0.005, 0.01, 0.0200), (0.01, 0.0, 0.0, 0.0082), (0.01, 0.01, 0.02, 0.037)],
)
def test_the_uncertainty_of_a_fill_by_difference(
    step: float, repeatability: float, error: float, expanded: float
) -> None:
    result = filled(scale_step_g=str(step), repeatability_g=str(repeatability), scale_error_g=str(error))
    assert result.outputs["uncertainty_g"] == pytest.approx(expanded, abs=0.0001 if expanded < 0.03 else 0.0005)
    assert difference_uncertainty_g(step, repeatability, error) == pytest.approx(expanded / 2, abs=0.0003)


def test_the_uncertainty_agrees_with_a_simulated_scale() -> None:
    """Rounding, noise and a scale error drawn at random (numpy), for step 0.01, s 0.005, bound 0.01 g."""
    import numpy as np

    draw = np.random.default_rng(20260503)
    count = 200_000
    dry = 12.4 + draw.uniform(-0.005, 0.005, count)
    shift = draw.uniform(-0.01, 0.01, count)
    before = np.round((dry + draw.normal(0, 0.005, count)) / 0.01) * 0.01
    after = np.round((dry + 1.86 + shift + draw.normal(0, 0.005, count)) / 0.01) * 0.01
    assert np.std(after - before) == pytest.approx(difference_uncertainty_g(0.01, 0.005, 0.01), rel=0.01)


@pytest.mark.parametrize(
    ("reading", "said", "verdict"),
    # Constructed: 14.26 g, 0.02 g either way, two drops of 0.02 g below the window at 14.20 g.
    [
        ("13.84", "pour on: 0.42 g to go", "ok"),
        ("14.19", "pour on: 0.07 g to go", "ok"),
        ("14.20", "a drop or two: 0.06 g to go", "ok"),
        ("14.23", "a drop or two: 0.03 g to go", "ok"),
        ("14.24", "full", "ok"),
        ("14.28", "full", "ok"),
        ("14.29", "0.03 g too much: draw out", "stop"),
    ],
)
def test_while_pouring_the_first_words_are_for_the_person_at_the_scale(reading: str, said: str, verdict: str) -> None:
    judged = filled(reading_g=reading).judgement
    assert (judged.reasons[0], judged.verdict, judged.in_words_only) == (said, verdict, True)


def test_without_a_reading_the_verdict_has_its_word() -> None:
    assert not filled().judgement.in_words_only


def test_a_scale_zeroed_on_the_diff_shows_the_oil_alone() -> None:
    """Constructed: 1.84 g shown where 12.40 g would be the least with the diff on the scale."""
    tared = filled(reading_g="1.84")
    assert tared.judgement.reasons[:3] == (
        "full",
        "scale zeroed on the diff: 1.84 of 1.86 g",
        "stop at 1.86 g; anything from 1.84 to 1.88 g is fine",
    )
    assert tared.outputs["remaining_g"] == pytest.approx(0.02)
    assert filled(reading_g="1.91").judgement.reasons[0] == "0.05 g too much: draw out"
    assert filled(reading_g="0").judgement.reasons[0] == "pour on: 1.86 g to go"


def test_the_figures_shown_are_those_of_the_zeroed_scale_once_the_reading_is_taken_so() -> None:
    """Constructed: 1.20 g on a scale zeroed on 12.40 g, of 1.35 g to put in."""
    zeroed = filled(oil_mass_g="1.35", reading_g="1.2")
    assert FILL_TARGET.answer_of(zeroed.found).name == "zeroed_stop_g"
    shown = {field.name: zeroed.outputs[field.name] for field in FILL_TARGET.shown_outputs(zeroed.found)}
    assert (shown["zeroed_stop_g"], shown["zeroed_low_g"], shown["zeroed_high_g"]) == (1.35, 1.33, 1.37)
    assert not {"stop_mass_g", "stop_low_g", "stop_high_g"} & shown.keys()
    assert zeroed.outputs["stop_mass_g"] == pytest.approx(13.75)
    text = "\n".join(result_lines(zeroed))
    assert "13.75" not in text
    whole = filled(oil_mass_g="1.35", reading_g="13.6")
    assert FILL_TARGET.answer_of(whole.found).name == "stop_mass_g"
    assert whole.outputs["zeroed_stop_g"] is None


def test_a_reading_under_the_dry_mass_that_is_not_the_oil_alone_is_doubted() -> None:
    judged = filled(reading_g="11.20").judgement
    assert judged.verdict == "caution"
    assert judged.reasons[0].startswith("11.20 g is less than the diff weighed dry, 12.40 g: check that the same parts")


def test_a_diff_that_cannot_hold_the_oil_stops_the_pouring_aloud() -> None:
    judged = filled(oil_mass_g="2.31", free_volume_cm3="2.24", viscosity_cst="7000", reading_g="14.00").judgement
    assert (judged.verdict, judged.in_words_only) == ("stop", False)
    assert "more than the diff holds" in judged.reasons[0]
    assert judged.reasons[1] == "pour on: 0.71 g to go"


def test_a_fill_by_volume_needs_a_density_and_uses_it() -> None:
    texts = {"dry_mass_g": "12.4", "free_volume_cm3": "2.26"}
    result = run(FILL_TARGET, bind(FILL_TARGET, {**texts, "viscosity_cst": "7000", "oil_temperature_c": "25"}))
    assert result.outputs["oil_mass_g"] == pytest.approx(2.26 * 0.85 * 0.975)
    with pytest.raises(InputError, match="viscosity_cst"):
        run(FILL_TARGET, bind(FILL_TARGET, texts))
    with pytest.raises(InputError, match="oil_mass_g or free_volume_cm3"):
        bind(FILL_TARGET, {"dry_mass_g": "12.4"})


def test_without_a_density_volume_and_fill_are_left_empty() -> None:
    outputs = filled(free_volume_cm3="2.26").outputs
    assert outputs["oil_volume_cm3"] is None
    assert outputs["fill_fraction"] is None


@pytest.mark.parametrize(
    ("oil", "verdict"),
    # This project's proposal: 50 kPa at 60 °C in a rigid housing (86.6 % full) asks for a second look, 95 % is a stop.
    [("1.83", "ok"), ("1.894", "unclear"), ("2.04", "caution"), ("2.11", "stop"), ("2.31", "stop")],
)
def test_a_diff_of_2_24_cm3_is_judged_by_its_fill(oil: str, verdict: str) -> None:
    assert filled(oil_mass_g=oil, free_volume_cm3="2.24", viscosity_cst="7000").verdict == verdict


def test_who_pours_stops_a_drop_or_two_before_no_air_is_left() -> None:
    """95.3 % of 2.24 cm3 leaves 1.2 % of the room at 60 °C (1 - 0.953 × 1.03697), 0.027 cm3: about a drop of 0.02 g."""
    said = filled(oil_mass_g="2.09", free_volume_cm3="2.24", viscosity_cst="7000").judgement.reasons[0]
    assert "hardly any air is left at 60 °C" in said
    assert "the pressure itself depends on the housing" in said


def test_a_dry_mass_that_differs_with_nothing_changed_is_a_finding() -> None:
    """A steel shim of 5 x 7 x 0.2 mm weighs 0.030 g: pi/4 (0.7^2 - 0.5^2) cm2 x 0.02 cm x 7.85 g/cm3."""
    from math import pi

    shim_g = pi / 4 * (0.7**2 - 0.5**2) * 0.02 * 7.85
    assert shim_g == pytest.approx(0.030, abs=0.0005)
    assert any("0.03 g lighter" in one for one in filled(dry_mass_g="12.39", last_dry_mass_g="12.42").findings)
    assert filled(dry_mass_g="12.39", last_dry_mass_g="12.40", repeatability_g="0.005").findings == ()


def test_what_washing_leaves_is_no_finding() -> None:
    """This project's proposal: 0.01 g of old oil, added to the 0.016 g that this scale can show (computed above)."""
    scale = {"repeatability_g": "0.005", "last_dry_mass_g": "12.40"}
    assert filled(dry_mass_g="12.42", **scale).findings == ()
    assert any("0.03 g heavier" in one for one in filled(dry_mass_g="12.43", **scale).findings)
    assert filled(**scale).outputs["uncertainty_g"] == filled(repeatability_g="0.005").outputs["uncertainty_g"]


def test_the_smallest_difference_that_a_scale_sees() -> None:
    """1.96 sqrt(2) u: 0.008 g by resolution alone, 0.016 g with s = 0.005 g (computed with scipy's normal quantile)."""
    from scipy.stats import norm

    quantile = norm.ppf(0.975)
    assert smallest_difference_seen_g(0.01, 0.0) == pytest.approx(quantile * 2**0.5 * 0.01 / 12**0.5, rel=1e-4)
    assert smallest_difference_seen_g(0.01, 0.005) == pytest.approx(0.016, abs=5e-5)


def test_a_tenth_of_a_gram_cannot_hit_a_window_of_a_hundredth() -> None:
    """Constructed: 12.4 + 1.35 = 13.75 g, a drop either way; the scale shows 13.7 and 13.8 g and nothing between."""
    result = filled(oil_mass_g="1.35", scale_step_g="0.1", repeatability_g="0")
    assert (result.outputs["stop_low_g"], result.outputs["stop_high_g"]) == (13.7, 13.7)
    assert result.verdict == "caution"
    said = " ".join(result.judgement.reasons)
    assert said.startswith("stop at 13.7 g, the nearest that this scale shows to 13.75 g")
    assert "show nothing from 13.73 to 13.77 g: this scale cannot hit the window" in said
    assert "good to ± 0.082 g of oil (k = 2), 6.0 % of it: take a scale with steps of 0.01 g" in said
    for reading, words in (("13.7", "full, as near"), ("13.8", "full, as near"), ("13.9", "0.15 g too much")):
        assert (
            filled(oil_mass_g="1.35", scale_step_g="0.1", repeatability_g="0", reading_g=reading)
            .judgement.reasons[0]
            .startswith(words)
        )


def test_the_teams_own_window_goes_before_the_usual_one() -> None:
    wide = filled(fill_window_g="0.05").outputs
    assert (wide["stop_low_g"], wide["stop_high_g"]) == (14.21, 14.31)
    assert filled(fill_window_g="0.05", reading_g="14.22").judgement.reasons[0] == "full"
    one = filled(fill_window_g="0.004", repeatability_g="0")
    assert one.judgement.reasons[0] == "stop at 14.26 g, the only reading that is at most 0.004 g off"
    assert "cannot tell inside from just outside" in one.judgement.reasons[-1]
    assert one.verdict == "ok", "0.0082 g is under 3 % of the oil: only said"


def test_a_scale_that_was_never_checked_counts_with_one_step_and_says_so() -> None:
    """This project's proposal. U = 2 sqrt(0.01^2 / 6 + 2 x 0.01^2) = 0.0294 g; the window is the same."""
    result = filled()
    assert result.outputs["uncertainty_g"] == pytest.approx(0.0294, abs=5e-5)
    assert (result.outputs["stop_low_g"], result.outputs["stop_high_g"], result.verdict) == (14.24, 14.28, "ok")
    assert result.judgement.reasons[-1] == (
        "the scale was never checked: one step, 0.01 g, is assumed as its repeatability"
    )
    assert not any("never checked" in one for one in filled(repeatability_g="0").judgement.reasons)
    coarse = filled(oil_mass_g="0.9").judgement
    assert coarse.verdict == "caution"
    assert "put one thing on it ten times, or take a scale" in " ".join(coarse.reasons)


@pytest.mark.parametrize(("repeatability", "verdict"), [("0.019", "ok"), ("0.020", "caution")])
def test_a_scale_that_cannot_tell_three_percent_of_the_oil_is_a_caution(repeatability: str, verdict: str) -> None:
    """JCGM 100:2008, F.2.2.1: 2 sqrt(0.01^2 / 6 + 2 s^2) is 0.0544 and 0.0572 g; 3 % of 1.86 g is 0.0558 g."""
    assert filled(repeatability_g=repeatability).verdict == verdict


def measured(**texts: Any) -> Result:
    base = {"dry_mass_g": "20.52 g", "full_mass_g": "22.73 g", "density_g_cm3": "0.975", "temperature_c": "21"}
    return run(FREE_VOLUME, bind(FREE_VOLUME, {**base, **texts}))


def test_room_for_oil_from_a_dry_and_a_full_mass() -> None:
    """Hand calculation: 2.21 g / (0.975 / (1 - 9.2e-4 x 4)) g/cm3 = 2.2583 cm3."""
    assert measured().outputs["free_volume_cm3"] == pytest.approx(2.258, abs=0.0005)


def test_the_smallest_of_three_fillings_counts_and_one_filling_asks_for_more() -> None:
    assert measured().verdict == "caution"
    three = measured(repeats=["22.75", "22.72"])
    assert three.verdict == "ok"
    assert three.outputs["free_volume_cm3"] == pytest.approx(2.2481, abs=0.0005)
    assert three.findings


def test_a_full_diff_no_heavier_than_the_dry_one_is_refused() -> None:
    with pytest.raises(InputError, match="same parts on the scale"):
        measured(full_mass_g="20.52")
