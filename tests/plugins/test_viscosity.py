"""viscosity, same-feel and blend: what a person reads, what must hold, what is refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.calculating.calculate import Result, bind, run
from bevelbook.declare.errors import InputError
from bevelbook.display.format import format_number
from bevelbook.formulas.oil_at_temperature import ViscosityGiven, warm
from bevelbook.formulas.oil_blend import BlendGiven, OilPart, blend
from bevelbook.physics.viscosity import viscosity_at_cst
from bevelbook_plugins.blend import BLEND
from bevelbook_plugins.same_feel import SAME_FEEL, FeelGiven, feel, judge_feel, temperature_then, temperatures
from bevelbook_plugins.viscosity import VISCOSITY

celsius = st.floats(-50.0, 200.0)
oil = st.floats(1.0, 1e6)


def viscosity(**texts: Any) -> Result:
    return run(VISCOSITY, bind(VISCOSITY, {"viscosity_cst": "7000", "temperature_c": "35", **texts}))


def same_feel(then: str, now: str, **texts: Any) -> Result:
    words = {"viscosity_cst": "7000", "temperature_then_c": then, "temperature_now_c": now, **texts}
    return run(SAME_FEEL, bind(SAME_FEEL, words))


def blended(*parts: str, **texts: Any) -> Result:
    return run(BLEND, bind(BLEND, {"parts": list(parts), **texts}))


@given(oil, celsius)
def test_viscosity_is_the_shared_law(one: float, at: float) -> None:
    found = warm(ViscosityGiven(viscosity_cst=one, temperature_c=at))
    assert found.viscosity_at_temperature_cst == pytest.approx(viscosity_at_cst(one, at), rel=1e-12)
    assert found.ratio_to_25 * one == pytest.approx(found.viscosity_at_temperature_cst, rel=1e-12)


def test_viscosity_is_given_in_words() -> None:
    result = viscosity()
    assert result.verdict == "ok"
    assert "7,000 cSt is 5,780 cSt at 35 °C, 17 % thinner" in result.judgement.reasons[0]


def test_degrees_fahrenheit_and_celsius_give_one_answer() -> None:
    assert viscosity(temperature_c="95 °F").outputs == viscosity(temperature_c="35 °C").outputs


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"temperature_c": "-15"}, "colder than -10"),
        ({"temperature_c": "100"}, "hotter than 80"),
        ({"viscosity_cst": "15000", "temperature_c": "5"}, "thicker when cold"),
        ({"viscosity_cst": "20"}, "coefficient of their own"),
    ],
)
def test_viscosity_outside_the_law_is_a_caution(texts: dict[str, str], words: str) -> None:
    result = viscosity(**texts)
    assert result.verdict == "caution"
    assert words in " ".join(result.judgement.reasons)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({}, "(the law is within 2.8 % of a maker's table, labels are less exact than that)"),
        ({"viscosity_cst": "60"}, "(the law is within 4 % of a maker's table, labels are less exact than that)"),
        (
            {"viscosity_cst": "15000"},
            "(the law is within about 6 % of curves read from a graph, labels are less exact than that)",
        ),
        ({"viscosity_cst": "400000"}, "(the law is within about 6 % of curves read from a graph, labels are less"),
        ({"viscosity_temperature_coefficient": "0.6"}, "(as good as your coefficient)"),
        ({"other_viscosity_cst": "5000", "other_temperature_c": "45"}, "(as good as your coefficient)"),
        ({"temperature_coefficient_k": "1700"}, "(as good as your B)"),
        ({"viscosity_cst": "20", "temperature_coefficient_k": "3000"}, "(as good as your B)"),
    ],
)
def test_an_error_is_printed_only_where_its_source_holds(texts: dict[str, str], words: str) -> None:
    assert words in viscosity(**texts).judgement.reasons[0]
    assert ("2.8" in words) == (texts == {})


@pytest.mark.parametrize(
    "texts",
    [
        {"temperature_c": "-11"},
        {"temperature_c": "81"},
        {"viscosity_cst": "20"},
        {"viscosity_cst": "15000", "temperature_c": "10"},
        {"viscosity_cst": "600000"},
    ],
)
def test_outside_it_no_error_is_printed_beside_the_figure(texts: dict[str, str]) -> None:
    result = viscosity(**texts)
    assert "the law is within" not in result.judgement.reasons[0]
    assert result.verdict == "caution"


@pytest.mark.parametrize("texts", [{"temperature_c": "-20"}, {"temperature_c": "120"}])
def test_with_an_own_coefficient_the_figures_of_the_default_one_are_not_printed(texts: dict[str, str]) -> None:
    result = viscosity(**texts, temperature_coefficient_k="1700")
    assert result.verdict == "caution"
    assert "a law with one coefficient" in result.judgement.reasons[1]
    assert "%" not in result.judgement.reasons[1]


def test_a_coefficient_far_from_silicone_oil_is_asked_about() -> None:
    """VTC of 0.55 and 0.61 (Shin-Etsu, 2014, p. 2) by the definition on its p. 6: 1,512 and 1,783 K."""
    for texts, words in (
        ({"viscosity_temperature_coefficient": "0.999"}, "the 13,079 K that follows here is far from that"),
        ({"temperature_coefficient_k": "3000"}, "3,000 K is far from that: check it"),
        ({"temperature_coefficient_k": "0.6"}, "0.6 looks like a VTC: give it as the viscosity temperature coeff"),
    ):
        result = viscosity(**texts)
        assert result.verdict == "caution"
        assert result.judgement.reasons[1].startswith("B of silicone oils is near 1,757 K")
        assert words in result.judgement.reasons[1]
    for one in ("0.55", "0.61"):
        result = viscosity(viscosity_temperature_coefficient=one)
        assert (result.verdict, len(result.judgement.reasons)) == ("ok", 1)


def test_a_difference_that_rounds_to_nothing_is_not_printed_as_one() -> None:
    assert "as at 25 °C" in viscosity(temperature_c="25.1").judgement.reasons[0]
    assert " 0 %" not in viscosity(temperature_c="25.1").judgement.reasons[0]


@pytest.mark.parametrize("one", ["30000", "400000", "500000"])
def test_oil_that_thins_when_it_turns_fast_is_a_caution(one: str) -> None:
    result = viscosity(viscosity_cst=one)
    assert result.verdict == "caution"
    assert "labels come closer together" in result.judgement.reasons[1]


@pytest.mark.parametrize("one", ["10000", "15000"])
def test_thick_oil_at_room_temperature_is_no_caution(one: str) -> None:
    assert viscosity(viscosity_cst=one, temperature_c="20").verdict == "ok"


def test_coefficient_from_a_data_sheet_or_from_a_second_viscosity() -> None:
    by_sheet = viscosity(viscosity_temperature_coefficient="0.60").outputs
    by_number = viscosity(temperature_coefficient_k="1734.94").outputs
    assert by_sheet["ratio_to_25"] == pytest.approx(by_number["ratio_to_25"], rel=1e-5)
    by_pair = viscosity(other_viscosity_cst="5000", other_temperature_c="45", temperature_c="45")
    assert by_pair.outputs["viscosity_at_temperature_cst"] == pytest.approx(5000.0, rel=1e-9)


@pytest.mark.parametrize(
    ("texts", "words"),
    [
        ({"temperature_c": "-300"}, "-273.15"),
        ({"temperature_c": "-60"}, "-55 to 250"),
        ({"viscosity_cst": ""}, "viscosity_cst is missing"),
        ({"viscosity_cst": "0"}, "more than 0"),
        ({"viscosity_cst": "60 wt"}, "wt"),
        ({"other_viscosity_cst": "5000"}, "needs its temperature"),
        ({"other_temperature_c": "45"}, "needs its temperature"),
        ({"other_viscosity_cst": "9000", "other_temperature_c": "45"}, "say the opposite"),
        ({"viscosity_temperature_coefficient": "0.6", "temperature_coefficient_k": "1700"}, "more than one way"),
        ({"temperature_coefficient_k": "1000000", "temperature_c": "-50"}, "no oil thins that strongly"),
        ({"other_viscosity_cst": "1", "other_temperature_c": "25.1"}, "no oil thins that strongly"),
        ({"viscosity_temperature_coefficient": "0.9999999"}, "no oil thins that strongly"),
    ],
)
def test_viscosity_refuses_with_what_to_give_instead(texts: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        viscosity(**texts)
    assert caught.value.remedy or caught.value.wanted


def test_verdict_is_unclear_where_the_limit_lies_inside_the_uncertainty() -> None:
    assert viscosity(temperature_c="79.5 +/- 0.5 (k = 1)").verdict == "unclear"


def test_uncertainty_of_the_temperature_is_carried() -> None:
    """First order by hand: 7000 × 0.8259 × 1757.1 / 308.15² × 0.5."""
    assert viscosity(temperature_c="35 +/- 0.5 (k = 1)").uncertainties["viscosity_at_temperature_cst"] == pytest.approx(
        7000 * 0.825931 * 1757.1 / 308.15**2 * 0.5, rel=1e-4
    )


@given(oil, celsius, celsius)
def test_same_feel_there_and_back_is_the_same_oil(one: float, then: float, now: float) -> None:
    needed = feel(FeelGiven(viscosity_cst=one, temperature_then_c=then, temperature_now_c=now)).viscosity_needed_cst
    back = feel(FeelGiven(viscosity_cst=needed, temperature_then_c=now, temperature_now_c=then)).viscosity_needed_cst
    assert back == pytest.approx(one, rel=1e-9)
    assert viscosity_at_cst(needed, now) == pytest.approx(viscosity_at_cst(one, then), rel=1e-9)


@given(oil, celsius, st.floats(0.01, 50.0))
def test_hotter_needs_thicker(one: float, then: float, hotter: float) -> None:
    found = feel(FeelGiven(viscosity_cst=one, temperature_then_c=then, temperature_now_c=then + hotter))
    assert found.viscosity_needed_cst > one


def test_leave_it_where_the_oil_in_use_is_nearest() -> None:
    result = same_feel("30", "38", labels=["7000", "10000"])
    assert result.outputs["viscosity_needed_cst"] == pytest.approx(8125, abs=0.5)
    assert result.outputs["nearest_viscosity_cst"] == 7000
    assert result.judgement.reasons[0].startswith("leave it")
    assert [row["viscosity_cst"] for row in result.rows] == [7000, 10000]
    assert [row["difference_percent"] for row in result.rows] == pytest.approx([-13.8, 23.1], abs=0.05)
    assert result.judgement.reasons[0].endswith("; 7,000 + 10,000, 11.6 + 8.4 g, hits it")


def test_the_oil_in_use_counts_as_at_hand() -> None:
    result = same_feel("30", "38", labels=["10000"])
    assert result.outputs["nearest_viscosity_cst"] == 7000
    assert result.judgement.reasons[0].startswith("leave it")


def test_take_the_other_one_where_it_is_nearer() -> None:
    result = same_feel("30", "45", labels=["5000", "7000", "10000"])
    assert result.judgement.reasons[0] == (
        "take the 10,000, 9 % thicker than needed; what is in now is 7,000 cSt, 24 % thinner than needed: 15 points "
        "better for a rebuild"
    )


def test_an_oil_that_is_nearer_by_less_than_labels_are_exact_is_no_reason_for_a_rebuild() -> None:
    """Constructed: 7,000 × exp(1757.1 × (1/293.15 - 1/303.15)) = 8,529 cSt: 18 % too thin, 10,000 is 17 % too thick."""
    texts = {"viscosity_cst": "7000", "air_then_c": "20", "air_now_c": "30", "labels": ["7000", "10000"]}
    said = run(SAME_FEEL, bind(SAME_FEEL, texts)).judgement.reasons[0]
    assert said == (
        "leave it: 10,000 is 17 % too thick, the 7,000 that is in 18 % too thin: hardly worth a rebuild; "
        "7,000 + 10,000, 8.9 + 11.1 g, hits it"
    )


def test_how_much_hotter_it_is_serves_as_the_temperature_now() -> None:
    """Hand calculation: 7000 × exp(1757.1 × (1/297.15 - 1/309.15)) = 8,806 cSt; of 20 g ln(8806/7000) / ln(10/7)."""
    texts = {"viscosity_cst": "7000", "temperature_then_c": "24", "labels": ["7000", "10000", "100000"]}
    for typed in ("12", "+12 °C", "12 K", "21.6 F", "21.6 °F hotter", "12 hotter"):
        result = run(SAME_FEEL, bind(SAME_FEEL, {**texts, "hotter_by_c": typed}))
        assert result.outputs["viscosity_needed_cst"] == pytest.approx(8806.03, abs=0.01), typed
        assert result.judgement.reasons[0].endswith("7,000 + 10,000, 7.1 + 12.9 g, hits it")
        assert [row["viscosity_cst"] for row in result.rows] == [10000, 7000], "100,000 is not near"
        assert result.findings[0].startswith("+12 °C was added to the diff temperature then: same rise")
    colder = run(SAME_FEEL, bind(SAME_FEEL, {**texts, "hotter_by_c": "-9 °F"}))
    assert colder.outputs == run(SAME_FEEL, bind(SAME_FEEL, {**texts, "temperature_now_c": "19"})).outputs
    with pytest.raises(InputError, match="two meanings"):
        bind(SAME_FEEL, {**texts, "hotter_by_c": "12 deg"})


def test_a_difference_and_a_temperature_now_are_not_taken_at_once() -> None:
    with pytest.raises(InputError, match="at once") as caught:
        same_feel("24", "36", hotter_by_c="12")
    assert caught.value.code == "too_many_inputs"


def test_how_much_hotter_counts_from_what_was_expected_of_the_diff_too() -> None:
    texts = {"viscosity_cst": "7000", "diff_expected_then_c": "40", "air_then_c": "24", "hotter_by_c": "12"}
    result = run(SAME_FEEL, bind(SAME_FEEL, texts))
    assert "at 52 °C as 7,000 cSt at 40 °C" in result.judgement.reasons[1]
    assert "is expected, not measured" in result.findings[0]


def test_what_is_expected_of_the_diff_is_enough_for_now() -> None:
    texts = {"viscosity_cst": "7000", "temperature_then_c": "30", "diff_now_c": "45"}
    result = run(SAME_FEEL, bind(SAME_FEEL, texts))
    assert result.outputs["viscosity_needed_cst"] == pytest.approx(9200, abs=1.0)
    assert "is expected, not measured" in result.findings[0]


def test_a_second_temperature_for_now_is_not_dropped_without_a_word() -> None:
    result = same_feel("30", "31", diff_now_c="45", air_now_c="20")
    assert result.findings[0] == (
        "45 °C of the diff and 20 °C of the air do not count: 31 °C was given as the temperature now"
    )


def test_an_oil_as_thick_as_needed_is_not_0_percent_off() -> None:
    said = same_feel("30", "30", labels=["7000"]).judgement.reasons[0]
    assert "as thick as needed" in said
    assert "0 %" not in said


def test_an_oil_three_times_off_is_not_worth_a_line() -> None:
    """9,200 cSt is needed (computed above): 3,067 to 27,600 cSt is within three times."""
    result = same_feel("30", "45", labels=["3000", "3100", "27000", "28000"])
    assert [row["viscosity_cst"] for row in result.rows] == [27000, 3100]
    nothing = same_feel("30", "45", labels=["100", "100000"])
    assert (nothing.rows, nothing.outputs["nearest_viscosity_cst"]) == ([], None)


@pytest.mark.parametrize(
    ("given", "then"),
    [
        ({"temperature_then_c": 20.0, "diff_then_c": 38.0}, (20.0, "diff", "temperature_then_c")),
        ({"temperature_then_c": 20.0, "air_then_c": 24.0, "basis": "air"}, (20.0, "air", "temperature_then_c")),
        ({"diff_then_c": 38.0, "air_then_c": 24.0}, (38.0, "diff", "diff_then_c")),
        ({"air_then_c": 24.0, "track_then_c": 31.0}, (24.0, "air", "air_then_c")),
        ({"track_then_c": 31.0}, (31.0, "track", "track_then_c")),
        ({"diff_then_c": 38.0, "track_then_c": 31.0, "basis": "track"}, (31.0, "track", "track_then_c")),
    ],
)
def test_which_temperature_then_counts(given: dict[str, Any], then: tuple[float, str, str]) -> None:
    assert temperature_then(FeelGiven(viscosity_cst=7000.0, temperature_now_c=45.0, **given)) == (*then, False)


def test_a_basis_that_nobody_measured_is_asked_for() -> None:
    with pytest.raises(InputError, match="the temperature of the diff when it felt right is not known"):
        feel(FeelGiven(viscosity_cst=7000.0, temperature_now_c=45.0, basis="diff", air_then_c=24.0))


def test_small_change_is_within_what_labels_differ() -> None:
    assert same_feel("30", "33").judgement.reasons[0].startswith("leave it")
    assert not same_feel("30", "45").judgement.reasons[0].startswith("leave it")


def test_air_temperatures_say_that_the_same_rise_is_assumed() -> None:
    assert "same rise assumed" in " ".join(same_feel("20", "30", basis="air").findings)
    assert not same_feel("20", "30").findings


def test_same_feel_with_thick_oils_says_that_labels_come_closer_together() -> None:
    """Printed curves (Shin-Etsu, 2014, Fig. 18): 500,000 at 1,000 per second acts like 70,700 cSt."""
    result = same_feel("30", "50", viscosity_cst="300000", labels=["500000"])
    assert result.verdict == "caution"
    assert "300,000 acts like 140,000 and 500,000 like 180,000" in " ".join(result.judgement.reasons)
    assert same_feel("30", "50").verdict == "ok"


def test_same_feel_outside_the_law_is_a_caution() -> None:
    assert same_feel("-20", "10").verdict == "caution"


mass = st.floats(0.01, 100.0)
parts = st.lists(st.tuples(oil, mass), min_size=1, max_size=6)


@given(parts, st.randoms())
def test_blend_lies_between_its_parts_and_their_order_does_not_matter(
    oils: list[tuple[float, float]], random: Any
) -> None:
    def of(some: list[tuple[float, float]]) -> Any:
        return blend(BlendGiven(parts=tuple(OilPart(viscosity_cst=one, mass_g=grams) for one, grams in some)))

    first = of(oils)
    assert first.low_cst <= first.viscosity_blend_cst <= first.high_cst
    assert min(one for one, _ in oils) * (1 - 1e-9) <= first.viscosity_blend_cst
    assert first.viscosity_blend_cst <= max(one for one, _ in oils) * (1 + 1e-9)
    random.shuffle(oils)
    assert of(oils).viscosity_blend_cst == pytest.approx(first.viscosity_blend_cst, rel=1e-10)


@given(oil, mass)
def test_one_part_alone_gives_itself(one: float, grams: float) -> None:
    found = blend(BlendGiven(parts=(OilPart(viscosity_cst=one, mass_g=grams),)))
    for value in (found.viscosity_blend_cst, found.low_cst, found.high_cst):
        assert value == pytest.approx(one, rel=1e-9)


@given(st.lists(oil, min_size=2, max_size=6, unique=True), st.floats(0.05, 0.95), mass)
def test_target_is_made_from_the_two_nearest(oils: list[float], place: float, grams: float) -> None:
    low, high = min(oils), max(oils)
    target = low * (high / low) ** place
    given_parts = tuple(OilPart(viscosity_cst=one) for one in oils)
    found = blend(BlendGiven(parts=given_parts, target_viscosity_cst=target, blend_mass_g=grams))
    assert found.viscosity_blend_cst == pytest.approx(target, rel=1e-9)
    assert sum(one.mass_g for one in found.used) == pytest.approx(grams, rel=1e-9)
    between = [
        one for one in oils if min(p.viscosity_cst for p in found.used) < one < max(p.viscosity_cst for p in found.used)
    ]
    assert not between


def test_target_is_given_in_grams() -> None:
    """By hand: ln(8000/5000) / ln(10000/5000) = 0.67807; 16 g of it are 10.8492 g, 5.1508 g remain."""
    result = blended("5000", "10000", "20000", target_viscosity_cst="8000", blend_mass_g="16")
    assert result.verdict == "ok"
    assert [row["mass_g"] for row in result.rows] == pytest.approx([5.1508, 10.8492], abs=1e-4)
    assert result.judgement.reasons[0] == "5.15 g of the 5,000 and 10.85 g of the 10,000 make 16.00 g of 8,000 cSt"
    assert result.findings == ("not needed: 20,000 cSt",)


def test_target_that_is_one_of_the_oils_needs_no_other() -> None:
    result = blended("5000", "7000", target_viscosity_cst="7000")
    assert [(row["viscosity_cst"], row["mass_g"]) for row in result.rows] == [(7000, 20)]


def test_grams_and_milligrams_give_one_answer() -> None:
    assert blended("5000:10g", "10000:5g").outputs == blended("5000:10000mg", "10000:5000mg").outputs


@pytest.mark.parametrize(
    ("thick", "verdict", "words"),
    [
        ("4000", "ok", "published rules"),
        ("4100", "caution", "more than 4"),
        ("10000", "caution", "more than 4"),
        ("10100", "caution", "blend in steps"),
    ],
)
def test_parts_far_apart_are_a_caution(thick: str, verdict: str, words: str) -> None:
    result = blended("1000:5g", f"{thick}:5g")
    assert result.verdict == verdict
    assert words in " ".join(result.judgement.reasons)


@pytest.mark.parametrize(
    ("oils", "texts", "words"),
    [
        (["5000", "10000"], {"target_viscosity_cst": "12000"}, "thicker than every oil"),
        (["5000", "10000"], {"target_viscosity_cst": "3000"}, "thinner than every oil"),
        (["5000"], {"target_viscosity_cst": "7000"}, "Give one more oil that is thicker"),
        (["5000:1g", "10000"], {}, "part 2 .10,000 cSt. has no positive mass"),
        (["5000", "10000"], {}, "no positive mass"),
        (["5000:0g", "10000:1g"], {}, "more than 0"),
        (["5000:-1g", "10000:1g"], {}, "more than 0"),
        (["5000:1g", "10000:1g"], {"target_viscosity_cst": "7000"}, "masses and a target"),
        ([], {"target_viscosity_cst": "7000"}, "no parts given"),
        (["60wt:1g"], {}, "wt"),
    ],
)
def test_blend_refuses_with_what_to_give_instead(oils: list[str], texts: dict[str, str], words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        blended(*oils, **texts)
    assert caught.value.remedy or caught.value.wanted


def test_a_thick_blend_is_a_caution_and_a_thin_one_with_a_thick_part_is_not() -> None:
    result = blended("100000:6g", "300000:14g")
    assert result.verdict == "caution"
    assert "labels come closer together" in result.judgement.reasons[1]
    assert blended("10000:19g", "30000:1g").verdict == "ok"


def test_part_without_positive_mass_is_refused_by_the_formula_too() -> None:
    with pytest.raises(InputError, match="no positive mass"):
        blend(BlendGiven(parts=(OilPart(viscosity_cst=5000, mass_g=0.0),)))
    with pytest.raises(InputError, match="at least one part"):
        blend(BlendGiven(parts=()))


def compared(**given: Any) -> tuple[Any, Any]:
    both = temperatures(FeelGiven(viscosity_cst=7000.0, **given))
    return both.then[1:], both.now[1:]


def test_a_forecast_is_compared_with_what_was_measured_expected_or_of_the_same_thing() -> None:
    """An expected diff against the measured one, else the expected one, else air with air or track with track."""
    of_diff = ("diff", "diff_now_c", True)
    forecast = {"air_now_c": 26.0, "track_now_c": 34.0, "diff_now_c": 37.4}
    assert compared(diff_then_c=29.0, **forecast) == (("diff", "diff_then_c", False), of_diff)
    assert compared(diff_expected_then_c=32.0, air_then_c=22.0, **forecast) == (
        ("diff", "diff_expected_then_c", True),
        of_diff,
    )
    assert compared(air_then_c=22.0, **forecast) == (("air", "air_then_c", False), ("air", "air_now_c", False))
    assert compared(track_then_c=30.0, track_now_c=34.0) == (
        ("track", "track_then_c", False),
        ("track", "track_now_c", False),
    )
    assert compared(temperature_then_c=30.0, **forecast) == (("diff", "temperature_then_c", False), of_diff)
    with pytest.raises(InputError, match="known both for now and for then"):
        compared(track_then_c=30.0, air_now_c=26.0)


def test_an_expected_temperature_never_stands_against_one_read_off_now() -> None:
    """What is read off may be the air: the expected diff counts only where the basis is said to be the diff."""
    given = {"diff_expected_then_c": 32.0, "air_then_c": 22.0, "temperature_now_c": 26.0}
    assert compared(**given)[0] == ("air", "air_then_c", False)
    assert compared(**given, basis="diff")[0] == ("diff", "diff_expected_then_c", True)


def test_an_expected_temperature_is_said() -> None:
    given = FeelGiven(viscosity_cst=7000.0, diff_then_c=29.0, air_now_c=26.0, diff_now_c=37.4)
    said = judge_feel(given, feel(given)).findings
    assert "the diff's temperature now is expected, not measured" in said[0]


def test_the_verdict_and_the_figure_have_one_precision() -> None:
    """20,000 × exp(1757.1 × (1/320.15 - 1/298.15)) = 13,340 cSt, shown to three figures: 13,300."""
    warm = viscosity(viscosity_cst="20000", temperature_c="47")
    (field,) = [field for field in warm.calculator.outputs if field.name == "viscosity_at_temperature_cst"]
    shown = format_number(warm.outputs[field.name], field)
    assert f"is {shown} cSt at 47 °C" in warm.judgement.reasons[0]
