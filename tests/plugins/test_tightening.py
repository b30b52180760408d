"""tightening: orders, passes, torques and the drawing of the pattern."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given as each
from hypothesis import strategies as st

from bevelbook.declare.errors import InputError
from bevelbook.reference import rows
from bevelbook_plugins import tightening
from bevelbook_plugins.screw_pattern import MOST_SCREWS, number_at_each_screw, pattern_svg, tightening_order
from bevelbook_plugins.tightening import (
    TIGHTENING,
    TightenFound,
    TightenGiven,
    breaking_torque_nm,
    judge_tighten,
    tighten,
)

REFERENCES = Path(__file__).parent.parent / "references"
COUNTS = range(2, MOST_SCREWS + 1)
SVG = "{http://www.w3.org/2000/svg}"


def checks(quantity: str) -> list[dict[str, str]]:
    with (REFERENCES / "fastening_tightening.csv").open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["quantity"] == quantity]


def tightened(**inputs: Any) -> tuple[TightenGiven, TightenFound]:
    asked = TightenGiven(**inputs)
    return asked, tighten(asked)


def aims(found: TightenFound) -> list[float | None]:
    """The torque of each pass; it is one and the same for all turns of a pass."""
    by_pass: dict[int, set[float | None]] = {}
    for turn in found.turns:
        by_pass.setdefault(turn.pass_number, set()).add(turn.torque_nm)
    assert all(len(one) == 1 for one in by_pass.values())
    return [one.pop() for one in by_pass.values()]


@pytest.mark.parametrize("row", checks("order"), ids=lambda row: row["inputs"])
def test_order_is_the_listed_one(row: dict[str, str]) -> None:
    assert "-".join(map(str, tightening_order(int(row["inputs"])))) == row["expected"], row["source"]


@pytest.mark.parametrize("row", checks("numbers"), ids=lambda row: row["inputs"])
def test_number_at_each_screw_is_the_listed_one(row: dict[str, str]) -> None:
    numbers = number_at_each_screw(tightening_order(int(row["inputs"])))
    assert "-".join(map(str, numbers)) == row["expected"], row["source"]


def test_both_conventions_of_the_table_of_sequences() -> None:
    """Equal at 4, 8, 16 (bit reversal is its own inverse), different at 6, 12, 20, 24."""
    for row in rows("tightening_sequences.csv"):
        _, found = tightened(screw_count=int(row["screw_count"]))
        assert found.order_of_screws == row["order_of_screws"]
        assert found.number_at_each_screw == row["number_at_each_screw"]
        assert (found.order_of_screws == found.number_at_each_screw) == (row["both_equal"] == "yes")


def test_order_of_powers_of_two_is_bit_reversal() -> None:
    """Halving the largest free angle, 0-180, 90-270, 45-225, 135-315 degrees (Cemline, Heater manual, p. 41)."""
    for bits in range(1, 6):
        count = 2**bits
        reversed_bits = [int(f"{place:0{bits}b}"[::-1], 2) + 1 for place in range(count)]
        assert list(tightening_order(count)) == reversed_bits


@pytest.mark.parametrize("count", COUNTS)
def test_every_order_is_a_permutation_with_opposite_pairs(count: int) -> None:
    """Pair rule (Hennig Gasket): even counts go 1-2, 3-4, ... across the circle; odd ones in steps of (N - 1)/2."""
    order = tightening_order(count)
    assert sorted(order) == list(range(1, count + 1))
    if count % 2 == 0:
        assert all(
            (second - first) % count == count // 2 for first, second in zip(order[::2], order[1::2], strict=True)
        )
    else:
        assert all((second - first) % count == (count - 1) // 2 % count for first, second in pairwise(order))


@pytest.mark.parametrize("count", COUNTS)
def test_numbers_and_order_are_inverse(count: int) -> None:
    order = tightening_order(count)
    numbers = number_at_each_screw(order)
    assert all(numbers[screw - 1] == turn for turn, screw in enumerate(order, start=1))


@pytest.mark.parametrize("row", checks("staged"), ids=lambda row: row["inputs"])
def test_staged_torque_of_each_scheme(row: dict[str, str]) -> None:
    scheme, target = row["inputs"].rsplit(" ", 1)
    _, found = tightened(scheme=scheme, target_torque_nm=float(target))
    expected = [float(one) for one in row["expected"].split()]
    assert aims(found) == pytest.approx(expected, abs=float(row["tolerance"])), row["source"]


def test_plastic_scheme_is_the_default_and_ends_with_a_round() -> None:
    _, found = tightened(screw_count=6, target_torque_nm=0.4)
    assert [turn.screw for turn in found.turns if turn.pass_number == 1] == [1, 4, 2, 5, 3, 6]
    assert [turn.screw for turn in found.turns if turn.pass_number == 6] == [1, 2, 3, 4, 5, 6]
    assert [turn.order for turn in found.turns if turn.pass_number == 3] == [1, 2, 3, 4, 5, 6]


def test_schemes_are_those_of_the_table() -> None:
    assert tuple(row["scheme"] for row in rows("tightening_schemes.csv")) == tightening.SCHEMES


@each(st.integers(2, 32), st.sampled_from(tightening.SCHEMES), st.floats(0.01, 5.0))
def test_staged_torque_is_never_above_the_target(count: int, scheme: str, target: float) -> None:
    _, found = tightened(screw_count=count, scheme=scheme, target_torque_nm=target)
    torques = [turn.torque_nm for turn in found.turns if turn.torque_nm is not None]
    assert max(torques) == target
    assert torques == sorted(torques)
    assert all(0 < torque <= target for torque in torques)


@pytest.mark.parametrize("row", checks("breaking"), ids=lambda row: row["inputs"])
def test_breaking_torque_of_the_standard(row: dict[str, str]) -> None:
    size, property_class = row["inputs"].split()
    torque = breaking_torque_nm(size, property_class)
    assert torque == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row["source"]


def test_breaking_torque_of_an_unknown_class_is_the_weakest() -> None:
    assert breaking_torque_nm("M2.5 x 8", "unknown") == breaking_torque_nm("m2,5", "8.8")
    assert breaking_torque_nm("2.6 mm", "unknown") is None


def test_window_from_drive_and_strip_torque() -> None:
    """Drive 0.20, strip 0.90 N·m: 0.41 to 0.55 (k 0.3 to 0.5); 70 % of strip is 0.63 and does not bind."""
    row = checks("window")[0]
    drive, strip = (float(one) for one in row["inputs"].split())
    low, high = (float(one) for one in row["expected"].split())
    asked, found = tightened(drive_torque_nm=drive, strip_torque_nm=strip)
    assert found.torque_nm == found.torque_low_nm == pytest.approx(low, abs=5e-4)
    assert found.torque_high_nm == pytest.approx(high, abs=5e-4)
    assert judge_tighten(asked, found).verdict == "ok"
    assert 0.7 * strip == pytest.approx(0.63)


def test_seventy_percent_of_strip_torque_caps_the_window() -> None:
    """Constructed: 0.50 and 0.90 N·m: 0.50 + 0.5 x 0.40 = 0.70 is above 0.63."""
    _, found = tightened(drive_torque_nm=0.50, strip_torque_nm=0.90)
    assert found.torque_high_nm == pytest.approx(0.63)
    assert found.torque_low_nm == pytest.approx(0.62)


def test_no_room_between_drive_and_strip_torque_stops() -> None:
    """Constructed: 0.80 and 0.90 N·m: the least is 0.83, 70 % of strip is 0.63."""
    asked, found = tightened(drive_torque_nm=0.80, strip_torque_nm=0.90)
    assert found.torque_nm is None
    judged = judge_tighten(asked, found)
    assert judged.verdict == "stop"
    assert "no torque fits" in judged.reasons[0]


def test_pull_on_the_arm_of_a_key() -> None:
    """0.30 N·m at 55 mm is a pull of 556 g: 0.556 x 9.80665 x 0.055 = 0.2999."""
    _, found = tightened(pull_mass_g=556.0, arm_mm=55.0)
    assert found.torque_nm == pytest.approx(0.29989, abs=5e-6)
    assert found.final_pull_g == pytest.approx(556.0)
    _, found = tightened(target_torque_nm=0.30, arm_mm=55.0)
    assert found.final_pull_g == pytest.approx(556.2, abs=0.05)
    assert "(111 g on the arm)" in found.turns[0].words


def test_without_a_torque_three_passes_in_words_and_a_round() -> None:
    asked, found = tightened(screw_size="M2 x 8")
    assert aims(found) == [None, None, None, None]
    assert all(turn.share is None for turn in found.turns)
    assert "%" not in "".join(turn.words for turn in found.turns)
    words = [turn.words for turn in found.turns[:: asked.screw_count]]
    assert "head touches" in words[0]
    assert words[1].startswith("snug")
    assert words[2].startswith("final")
    assert words[3].startswith("round")
    judged = judge_tighten(asked, found)
    assert "in three passes and a round" in judged.reasons[0]


def test_words_for_blind_holes_and_for_thread_in_plastic() -> None:
    for hole in ("blind", None):
        asked, found = tightened(hole=hole)
        assert found.turns[0].words.startswith("wipe the hole dry, turn back until it drops into its old thread")
        assert any(
            "stop, take it out, wipe the hole dry, never more torque" in r for r in judge_tighten(asked, found)[1]
        )
    asked, found = tightened(hole="through", thread="metal")
    assert found.turns[0].words == "in by hand, until the head touches"
    assert not any("blind" in reason for reason in judge_tighten(asked, found).reasons)


def test_small_machine_screws_take_the_torque_in_their_last_pass_only() -> None:
    """Epson robots, C4 maintenance manual, sec. 2.4, p. 12: crossing rounds, the last one with a torque tool."""
    _, found = tightened(scheme="machine screws", target_torque_nm=0.4)
    assert aims(found) == [None, None, 0.4]


@pytest.mark.parametrize(
    ("inputs", "words"),
    [
        ({"target_torque_nm": 0.4}, "neither a source nor a measured strip torque"),
        ({"target_torque_nm": 0.7, "strip_torque_nm": 0.9}, "78 % of the strip torque"),
        ({"target_torque_nm": 0.15, "drive_torque_nm": 0.2, "strip_torque_nm": 0.9}, "the head will not seat"),
    ],
)
def test_doubtful_torques_are_cautions(inputs: dict[str, float], words: str) -> None:
    asked, found = tightened(**inputs)
    judged = judge_tighten(asked, found)
    assert judged.verdict == "caution"
    assert words in judged.reasons[0]


def test_a_sourced_torque_is_taken() -> None:
    asked, found = tightened(target_torque_nm=0.4, torque_source="measured on a scrap housing")
    assert judge_tighten(asked, found).verdict == "ok"


def test_findings_say_what_is_from_memory_or_constructed() -> None:
    def findings(**inputs: Any) -> str:
        return " | ".join(judge_tighten(*tightened(**inputs)).findings)

    assert "order for 20 screws: exact list from memory, unverified" in findings(screw_count=20)
    assert "order for 7 screws: constructed" in findings(screw_count=7)
    assert "may break at 0.37 N·m, class unknown, 8.8 taken" in findings(screw_size="M2")
    assert "no breaking torque is known for 2.6 mm" in findings(screw_size="2.6 mm")
    assert "once more after 24 h, to the same torque" in findings(scheme="plastic lined", target_torque_nm=0.3)
    assert "give a torque only together" in findings(drive_torque_nm=0.2)
    assert "passes under 0.20 N·m only run the thread" in findings(drive_torque_nm=0.2, strip_torque_nm=0.9)
    assert "strip three threads" in findings(pull_mass_g=556.0, arm_mm=55.0)
    assert "the least torque that seals is better" in findings(target_torque_nm=0.55, strip_torque_nm=0.9)


def test_both_conventions_are_said_apart() -> None:
    reasons = judge_tighten(*tightened(screw_count=12)).reasons
    assert any(reason.startswith("go 1-7-4-10-2-8-5-11-3-9-6-12: the screws are numbered") for reason in reasons)
    assert any("reads 1-5-9-3-7-11-2-6-10-4-8-12 (not the same list" in reason for reason in reasons)
    assert any("(here both lists are equal)" in reason for reason in judge_tighten(*tightened()).reasons)


@pytest.mark.parametrize(
    ("inputs", "where"),
    [
        ({"screw_count": 1}, "screw_count"),
        ({"screw_count": 33}, "screw_count"),
        ({"target_torque_nm": 1.0, "strip_torque_nm": 0.9}, "target_torque_nm"),
        ({"target_torque_nm": 0.4, "screw_size": "M2"}, "target_torque_nm"),
        ({"pull_mass_g": 2000.0, "arm_mm": 55.0, "strip_torque_nm": 0.9}, "pull_mass_g"),
        ({"pull_mass_g": 556.0}, "arm_mm"),
        ({"drive_torque_nm": 0.9, "strip_torque_nm": 0.9}, "drive_torque_nm"),
        ({"drive_torque_nm": 0.5, "strip_torque_nm": 1.5, "screw_size": "M2"}, "strip_torque_nm"),
        ({"pull_mass_g": 556.0, "arm_mm": 55.0, "target_torque_nm": 0.3}, "target_torque_nm"),
    ],
)
def test_impossible_inputs_are_refused_with_a_remedy(inputs: dict[str, Any], where: str) -> None:
    with pytest.raises(InputError) as refused:
        tightened(**inputs)
    assert refused.value.place.field == where
    assert refused.value.remedy


@pytest.mark.parametrize("count", COUNTS)
def test_drawing_shows_the_turn_at_every_screw_without_colour(count: int) -> None:
    drawing = ElementTree.fromstring(pattern_svg(count))
    circles, figures = drawing.findall(f"{SVG}circle"), drawing.findall(f"{SVG}text[@font-weight='bold']")
    assert len(circles) == count + 1
    words = drawing.findall(f"{SVG}text")[count:]
    assert not any("screw" in (one.text or "") for one in words), "one numbering only"
    assert all(float(one.attrib["font-size"]) * 358 / 400 >= 15 for one in words), "15 px on a phone 390 wide"
    assert [int(one.text or "") for one in figures] == list(number_at_each_screw(tightening_order(count)))
    used = {value for one in drawing.iter() for key, value in one.attrib.items() if key in ("fill", "stroke")}
    assert used == {"currentColor", "none"}
    assert "tightened in the order " + "-".join(map(str, tightening_order(count))) in drawing.attrib["aria-label"]
    for circle, figure in zip(circles[1:], figures, strict=True):
        assert float(circle.attrib["cx"]) == float(figure.attrib["x"])
        assert float(circle.attrib["r"]) >= 10
        assert float(figure.attrib["font-size"]) >= 11


def test_holes_of_the_drawing_do_not_touch() -> None:
    holes = ElementTree.fromstring(pattern_svg(32)).findall(f"{SVG}circle")[1:]
    first, second = holes[0].attrib, holes[1].attrib
    apart = ((float(first["cx"]) - float(second["cx"])) ** 2 + (float(first["cy"]) - float(second["cy"])) ** 2) ** 0.5
    assert apart > 2 * float(first["r"]) + 2


def test_calculator_draws_the_pattern() -> None:
    assert TIGHTENING.picture is not None
    assert TIGHTENING.picture(*tightened(screw_count=6)) == pattern_svg(6)


def test_working_shows_the_values_put_in() -> None:
    lines = TIGHTENING.working(*tightened(drive_torque_nm=0.2, strip_torque_nm=0.9))
    assert any("0.2 + 0.3 (0.9 − 0.2) = 0.410 N·m" in line for line in lines)
    lines = TIGHTENING.working(*tightened(screw_count=5, pull_mass_g=556.0, arm_mm=55.0))
    assert "steps of (N − 1)/2 = 2" in lines[0]
    assert any("0.556 kg" in line for line in lines)


def test_from_the_command_line(bevelbook: Any) -> None:
    done = bevelbook("calc", "tightening", "--screw-count", "6", "--target-torque", "0.40 N·m", "--json")
    assert done.code == 0
    assert done.json["outputs"]["order_of_screws"] == "1-4-2-5-3-6"
    assert len(done.json["rows"]) == 36
    done = bevelbook("calc", "tightening", "--screw-count", "1")
    assert done.code == 2
    assert "--screw-count" in done.err
