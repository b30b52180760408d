"""What the small parts of a diff weigh, from their sizes: one that was left out shows on the scale."""

from __future__ import annotations

import re
from math import pi
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.physics.oring import ring_volume_mm3
from bevelbook.physics.shim_mass import STEEL_G_CM3, shim_mass_g

RUBBER_G_CM3: Final = (1.1, 1.4)
"""Density of seal rubbers, by compound; common practice, no source."""
_PITCH_MM: Final = {1.6: 0.35, 2.0: 0.4, 2.5: 0.45, 3.0: 0.5, 4.0: 0.7}
_PITCH_DIAMETER: Final = 0.6495
_WIDEST_HEAD: Final = 1.9
"""Widest cylinder head in diameters of its thread (M2 in ISO 4762); it is one diameter high."""
_SIZE: Final = late_pattern(r"\s*M\s?(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)", re.IGNORECASE)


class MassRange(NamedTuple):
    """Least and most that a part may weigh, in g."""

    low_g: float
    high_g: float

    def off_by_g(self, mass_g: float) -> float:
        """How far a mass is from the range, in g; 0 inside.

        >>> MassRange(0.25, 0.5).off_by_g(0.75), MassRange(0.25, 0.5).off_by_g(0.3)
        (0.25, 0.0)
        """
        return max(self.low_g - mass_g, mass_g - self.high_g, 0.0)


def shim_range(bore_mm: float, outside_mm: float, thickness_mm: float, pieces: int = 1) -> MassRange:
    """Steel shims of one size, as their sizes say.

    >>> [round(one, 3) for one in shim_range(5.0, 7.0, 0.2, 2)]
    [0.059, 0.059]
    """
    mass_g = pieces * shim_mass_g(bore_mm, outside_mm, abs(thickness_mm))
    return MassRange(mass_g, mass_g)


def rubber_ring_range(inside_diameter_mm: float, section_mm: float) -> MassRange:
    """A rubber ring, for the lightest and the heaviest usual compound.

    >>> [round(one, 3) for one in rubber_ring_range(18.0, 1.0)]
    [0.052, 0.066]
    """
    volume_cm3 = ring_volume_mm3(inside_diameter_mm, section_mm) / 1000.0
    return MassRange(*(density * volume_cm3 for density in RUBBER_G_CM3))


def screw_range(size: str) -> MassRange | None:
    """A steel screw by its size as it is written, from its thread alone to its thread with a full cylinder as head.

    Valid for M1.6 to M4; None for any other size, and for words. Thread: pitch diameter d - 0.6495 P.

    Source: coarse pitches of ISO 261; heads of ISO 4762, up to 1.9 d wide and d high; both as quoted in tables of
    screws, the standards themselves were not opened.

    >>> [round(one, 2) for one in screw_range("M2 x 8") or ()], screw_range("two long ones")
    ([0.15, 0.33], None)
    """
    found = _SIZE.match(size)
    if found is None:
        return None
    thread_mm, length_mm = float(found[1]), float(found[2])
    pitch_mm = _PITCH_MM.get(thread_mm)
    if pitch_mm is None or length_mm > 20.0 * thread_mm:
        return None
    thread_mm3 = pi / 4.0 * (thread_mm - _PITCH_DIAMETER * pitch_mm) ** 2 * length_mm
    head_mm3 = pi / 4.0 * (_WIDEST_HEAD * thread_mm) ** 2 * thread_mm
    return MassRange(*(STEEL_G_CM3 * volume / 1000.0 for volume in (thread_mm3, thread_mm3 + head_mm3)))
