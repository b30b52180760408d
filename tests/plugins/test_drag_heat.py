"""drag-heat: upper bounds from an energy balance. No published figure was found: all cases are constructed."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.calculating.calculate import Result, bind, run
from bevelbook.declare.errors import InputError
from bevelbook.formulas.rounded_up import rounded_up
from bevelbook.physics.drag_heat import drag_heat_w, rise_without_losses_k
from bevelbook.reference import rows
from bevelbook_plugins.drag_heat import DRAG_HEAT, MATERIALS


def heated(**given: Any) -> Result:
    return run(DRAG_HEAT, bind(DRAG_HEAT, given))


def test_heat_and_rise_by_hand() -> None:
    """0.0051 N·m·s × 15² rad²/s² = 1.1475 W; in 8 J/K that is 0.143 K each second, 43.0 K in five minutes."""
    assert drag_heat_w(0.0051, 15.0) == pytest.approx(1.1475)
    assert rise_without_losses_k(1.1475, 1.0, 8.0) == pytest.approx(0.1434, abs=0.0001)
    result = heated(damping_nm_s="0.0051", speed_difference_rad_s="15", run_time_s="5 min", heat_capacity_j_k="8")
    assert result.outputs["heat_w"] == pytest.approx(1.1475)
    assert result.outputs["rise_k"] == pytest.approx(43.03, abs=0.01)
    assert result.outputs["rise_each_minute_k"] == pytest.approx(8.606, abs=0.001)
    assert result.verdict == "caution"
    assert result.judgement.reasons[0].startswith("at most 1.2 W: no more than 44 °C warmer in 5 min")
    assert "has only 48 % of its viscosity" in result.judgement.reasons[1]


def test_a_brake_that_everybody_has_turned() -> None:
    """Constructed from the definition of the watt: 1 N·m at 1 rad/s is 1 W, and 1 W for 1 s in 1 J/K is 1 K."""
    assert drag_heat_w(1.0, 1.0) == 1.0
    assert rise_without_losses_k(1.0, 1.0, 1.0) == 1.0


def test_the_heat_capacity_of_parts() -> None:
    """10 g × 0.49 + 6 g × 1.5 + 1.5 g × 1.5 = 16.15 J/K."""
    parts = ["10:steel", "6:acetal", "1.5:silicone oil"]
    result = heated(damping_nm_s="0.002", speed_difference_rad_s="10", run_time_s="300", parts=parts)
    assert result.outputs["warmed_j_k"] == pytest.approx(16.15)
    assert result.outputs["rise_k"] == pytest.approx(0.2 * 300 / 16.15)
    assert result.verdict == "ok"


def test_turns_a_minute_are_taken() -> None:
    """60 rpm is one turn a second, 6.2832 rad/s."""
    result = heated(damping_nm_s="0.002", speed_difference_rad_s="60 rpm", run_time_s="60", heat_capacity_j_k="10")
    assert result.outputs["heat_w"] == pytest.approx(0.002 * 6.283185**2, rel=1e-6)


def test_no_difference_of_speed_is_no_heat() -> None:
    result = heated(damping_nm_s="0.002", speed_difference_rad_s="0", run_time_s="60", heat_capacity_j_k="10")
    assert (result.outputs["heat_w"], result.outputs["rise_k"], result.verdict) == (0.0, 0.0, "ok")


def test_a_bound_beyond_all_oil_is_said_in_words() -> None:
    result = heated(damping_nm_s="0.05", speed_difference_rad_s="100", run_time_s="600", heat_capacity_j_k="8")
    said = result.judgement.reasons[0]
    assert result.verdict == "caution"
    assert said.startswith("at most 500 W while the oil is as thick as on the bench; over 10 min the sums break off")
    assert "check the speed difference" in result.judgement.reasons[1]
    assert "e+" not in " ".join(result.judgement.reasons)


@given(st.floats(1e-6, 1e6), st.integers(1, 4))
def test_a_bound_in_words_is_never_under_the_bound(value: float, digits: int) -> None:
    said = float(rounded_up(value, digits).replace(",", ""))
    assert value * (1.0 - 1e-9) <= said <= max(value + 1.0, value * (1.0 + 10.0 ** (1 - digits)))


def test_what_warms_has_to_be_known() -> None:
    with pytest.raises(InputError):
        heated(damping_nm_s="0.002", speed_difference_rad_s="10", run_time_s="300")


def test_every_material_is_in_the_table() -> None:
    assert set(MATERIALS.values()) <= {row["material"] for row in rows("specific_heats.csv")}
