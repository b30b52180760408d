"""Heat from the drag of the oil in a diff, and how warm it could get: upper bounds."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.sources import Source

ENERGY_BALANCE: Final = Source(
    "computed",
    "energy balance: torque c Δω times speed Δω is the heat c Δω²; what does not leave warms the parts by P t / C",
)


def drag_heat_w(damping_nm_s: float, speed_difference_rad_s: float) -> float:
    """Heat from the drag between the two outputs, in W: P = c w^2; with the root mean square of the speed the mean.

    damping_nm_s            torque for each rad/s between the outputs, N·m·s, as a slow test on the bench gives it
    speed_difference_rad_s  speed difference of the two outputs, root mean square over the run, rad/s
    An upper bound in a run: the oil thins as it warms, and thick oils also as they are sheared.

    >>> round(drag_heat_w(0.0051, 15.0), 4)
    1.1475
    """
    return damping_nm_s * speed_difference_rad_s**2


def rise_without_losses_k(heat_w: float, time_s: float, heat_capacity_j_k: float) -> float:
    """How much warmer parts get if no heat leaves them, in K: P t / C, C the sum of mass times specific heat, J/K.

    >>> round(rise_without_losses_k(1.1475, 1.0, 8.0), 3)
    0.143
    """
    return heat_w * time_s / heat_capacity_j_k
