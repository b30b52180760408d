"""What to say to a reading while pouring: grams to go, or grams over; in words, and as numbers for a script."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.formulas.fill_target import (
    MOST_OVERFILL,
    FillFound,
    FillGiven,
    half_width_of_fill_g,
    is_zeroed_on_diff,
)
from bevelbook.formulas.fill_window import (
    FillWindow,
    decimals_of,
    fill_window,
    grams_in_words,
    nearest_reading_g,
    reading_in_words,
)
from bevelbook.physics.weighing import ScaleNoise, dry_mass_change_seen_g

FARTHEST_OVER: Final = 1.0
"""A reading over the stop mass by more than this share of it is not of pouring: the decimal point slipped."""
_POWERS: Final = (10, 100, 1000, 10000)


class PouringWords(NamedTuple):
    """What is said while pouring; ``{}`` is the place of a figure, in g."""

    to_go: str = "{} g to go"
    over: str = "{} g over: draw off"
    full: str = "full"
    nearly_full: str = "full, as near as this scale shows"
    under_dry: str = "less than it weighed dry ({} g): the same parts on the scale?"
    zeroed: str = "scale zeroed on the diff: {} g of oil is full"
    slipped: str = "do you mean {} g?"
    far_off: str = "far from the stop mass: look at the decimal point"


WORDS: Final = PouringWords()


class PouringGoal(NamedTuple):
    """Where to stop with the diff on the scale, and with the scale zeroed on the dry diff; masses in g.

    ``noise_g`` is the smallest change of the dry mass that the scale can show.
    """

    dry_mass_g: float
    oil_mass_g: float
    noise_g: float
    scale_step_g: float
    on_scale: FillWindow
    zeroed: FillWindow

    @property
    def stop_g(self) -> float:
        """The reading to stop at: the one nearest to dry mass and oil that the scale shows."""
        return nearest_reading_g(self.on_scale.target_g, self.scale_step_g)

    def is_zeroed(self, reading_g: float) -> bool:
        """Whether a reading is of the oil alone."""
        return is_zeroed_on_diff(reading_g, self.dry_mass_g, self.oil_mass_g, self.noise_g)

    def is_under_dry(self, reading_g: float) -> bool:
        """Whether a reading cannot be: under the dry mass, and not of the oil alone."""
        return reading_g < self.dry_mass_g - self.noise_g and not self.is_zeroed(reading_g)

    def window_of(self, reading_g: float) -> FillWindow:
        """The window on the reading's own zero."""
        return self.zeroed if self.is_zeroed(reading_g) else self.on_scale

    def is_full(self, reading_g: float) -> bool:
        """Whether a reading is inside the window."""
        window = self.window_of(reading_g)
        return not window.too_little(reading_g) and not window.too_much(reading_g)

    def is_far_off(self, reading_g: float) -> bool:
        """Whether a reading is too far over the stop mass to be of this pouring."""
        return reading_g - self.on_scale.target_g > FARTHEST_OVER * self.on_scale.target_g

    def slipped_g(self, reading_g: float) -> float | None:
        """The reading that was meant where its decimal point slipped; None where there is no such.

        >>> goal_of_masses(12.40, 1.86).slipped_g(1424)
        14.24
        """
        if not self.is_far_off(reading_g):
            return None
        meant = (reading_g / power for power in _POWERS)
        lightest = self.dry_mass_g - self.noise_g
        return next((one for one in meant if one >= lightest and not self.is_far_off(one)), None)


def pouring_goal(given: FillGiven, found: FillFound) -> PouringGoal:
    """The goal of a fill target."""
    return goal_of_masses(
        given.dry_mass_g,
        found.oil_mass_g,
        half_width_g=half_width_of_fill_g(given, found.oil_mass_g),
        scale_step_g=given.scale_step_g,
        repeatability_g=given.repeatability_g,
    )


def goal_of_masses(
    dry_mass_g: float,
    oil_mass_g: float,
    half_width_g: float = 0.02,
    scale_step_g: float = 0.01,
    repeatability_g: float | None = None,
) -> PouringGoal:
    """The goal from the masses, in g, each over 0."""
    noise = ScaleNoise(scale_step_g, repeatability_g, day_to_day_g=0.0)
    return PouringGoal(
        dry_mass_g,
        oil_mass_g,
        dry_mass_change_seen_g(noise, noise),
        scale_step_g,
        fill_window(dry_mass_g + oil_mass_g, half_width_g, scale_step_g),
        fill_window(oil_mass_g, half_width_g, scale_step_g),
    )


def pouring_in_short(goal: PouringGoal, reading_g: float) -> str:
    """What a reading says, in one short line.

    >>> goal = goal_of_masses(12.40, 1.86)
    >>> [pouring_in_short(goal, reading) for reading in (13.84, 14.25, 14.31, 1.44)]
    ['0.42 g to go', 'full', '0.05 g over: draw off', '0.42 g to go; scale zeroed on the diff: 1.86 g of oil is full']
    >>> pouring_in_short(goal, 11.2), pouring_in_short(goal, 1384)
    ('less than it weighed dry (12.40 g): the same parts on the scale?', 'do you mean 13.84 g?')
    """
    step = goal.scale_step_g
    if goal.is_far_off(reading_g):
        slipped = goal.slipped_g(reading_g)
        return WORDS.far_off if slipped is None else WORDS.slipped.format(reading_in_words(slipped, step))
    if goal.is_under_dry(reading_g):
        return WORDS.under_dry.format(reading_in_words(goal.dry_mass_g, step))
    window = goal.window_of(reading_g)
    left = window.still_to_pour_g(reading_g)
    if window.too_much(reading_g):
        words = WORDS.over.format(grams_in_words(-left, step))
    elif window.too_little(reading_g):
        words = WORDS.to_go.format(grams_in_words(left, step))
    else:
        words = WORDS.full if window.can_hit else WORDS.nearly_full
    if goal.is_zeroed(reading_g):
        return f"{words}; {WORDS.zeroed.format(reading_in_words(goal.zeroed.nearest_g, step))}"
    return words


def for_script(goal: PouringGoal) -> dict[str, str]:
    """The numbers that a script needs to say the same, as the attributes of an element: each a number as text."""
    on_scale, zeroed = goal.on_scale, goal.zeroed
    numbers = {
        "dry": goal.dry_mass_g,
        "dry-less-noise": goal.dry_mass_g - goal.noise_g,
        "stop": on_scale.target_g,
        "miss": on_scale.largest_miss_g,
        "oil": zeroed.target_g,
        "oil-nearest": zeroed.nearest_g,
        "oil-miss": zeroed.largest_miss_g,
        "most-zeroed": MOST_OVERFILL * goal.oil_mass_g,
        "farthest": on_scale.target_g + FARTHEST_OVER * on_scale.target_g,
    }
    decimals = decimals_of(goal.scale_step_g)
    words = WORDS._replace(full=WORDS.full if on_scale.can_hit else WORDS.nearly_full)
    return {
        **{name: repr(value) for name, value in numbers.items()},
        "decimals": str(decimals),
        "decimals-left": str(max(2, decimals)),
        "oil-full": WORDS.full if zeroed.can_hit else WORDS.nearly_full,
        **{f"words-{name.replace('_', '-')}": text for name, text in words._asdict().items()},
    }
