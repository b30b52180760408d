"""The readings to watch for while pouring, each with what is still to go: few at first, closer near the end."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.formulas.fill_window import DROP_G, FillWindow, fill_window, nearest_reading_g

TO_GO_G: Final = (50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02)
"""What may be still to go near the end, and how far the readings before are apart."""
MOST_AT_FIRST: Final = 10
"""Readings before the last steps, at most; a longer strip is not read while pouring."""
UNKNOWN_OIL_G: Final = 1.3
"""A strip whose oil is not known begins where less than this is to go."""
_NOISE: Final = 1e-9


class PouringRow(NamedTuple):
    """A reading, with the diff on the scale (``reading_g``) and with the scale zeroed on the dry diff (``zeroed_g``).

    ``to_go_g`` is what the fill target says is still to pour at that reading. Masses in g, None where not known.
    """

    reading_g: float | None
    zeroed_g: float | None
    to_go_g: float
    is_fine: bool = False
    is_stop: bool = False


def pouring_strip(
    oil_mass_g: float, half_width_g: float, scale_step_g: float, dry_mass_g: float | None = None
) -> tuple[PouringRow, ...]:
    """The readings from the dry diff to the stop, for oil over 0 g; each is one that the scale shows.

    Without a dry mass only the readings of a zeroed scale are known.

    >>> [(row.reading_g, row.zeroed_g, round(row.to_go_g, 2)) for row in pouring_strip(0.31, 0.02, 0.01, 12.40)][::2]
    [(12.4, 0.0, 0.31), (12.51, 0.11, 0.2), (12.61, 0.21, 0.1), (12.69, 0.29, 0.02)]
    """
    zeroed = fill_window(oil_mass_g, half_width_g, scale_step_g)
    whole = None if dry_mass_g is None else fill_window(dry_mass_g + oil_mass_g, half_width_g, scale_step_g)
    rows: dict[float, PouringRow] = {}
    for left_g in (oil_mass_g, *_left_g(oil_mass_g, scale_step_g), 0.0):
        row = _row(left_g, zeroed, whole, scale_step_g)
        rows[row.zeroed_g or 0.0] = row
    *pouring, last = rows.values()
    return (*pouring, last._replace(is_fine=True, is_stop=True))


def blank_strip() -> tuple[PouringRow, ...]:
    """What is still to go, with readings to fill in by hand, where the oil is not known."""
    left = (*_left_g(UNKNOWN_OIL_G, DROP_G), 0.0)
    return tuple(PouringRow(None, None, left_g, is_stop=left_g == 0.0) for left_g in left)


def _row(left_g: float, zeroed: FillWindow, whole: FillWindow | None, scale_step_g: float) -> PouringRow:
    of_oil = nearest_reading_g(zeroed.target_g - left_g, scale_step_g)
    if whole is None:
        return PouringRow(None, of_oil, zeroed.still_to_pour_g(of_oil), is_fine=not zeroed.too_little(of_oil))
    reading = nearest_reading_g(whole.target_g - left_g, scale_step_g)
    return PouringRow(reading, of_oil, whole.still_to_pour_g(reading), is_fine=not whole.too_little(reading))


def _left_g(oil_mass_g: float, scale_step_g: float) -> tuple[float, ...]:
    """What is still to go at each reading, the most first, without the whole and without nothing."""
    apart = min((one for one in TO_GO_G if oil_mass_g / one <= MOST_AT_FIRST), default=TO_GO_G[0])
    count = int(oil_mass_g / apart - 0.5 + _NOISE)
    finest = max(DROP_G, scale_step_g) - _NOISE
    far = [round(apart * number, 6) for number in range(count, 0, -1)]
    return (*far, *(one for one in TO_GO_G if finest <= one < min(apart, oil_mass_g)))
