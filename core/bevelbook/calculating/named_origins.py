"""Origins of inputs that are not columns: what a kept calculation found, and temperatures expected of the diff."""

from __future__ import annotations

from typing import Final

RESULTS: Final = "results."
"""Before the name of an output, of whichever calculator has it: ``results.damping_nm_s``."""
OF_LAST_RUN: Final = "expected.last_run_c"
"""The diff's temperature in the build's last run, expected of its air and track; none where it was measured."""
IN_USE: Final = "expected.in_use_c"
"""The same for a build that did not run yet: as in the last run of its diff."""
IN_USE_HIGH: Final = "expected.in_use_high_c"
"""The upper end of that, 95 %."""
HOTTEST: Final = "measured.hottest_c"
"""The hottest that the diff was measured after a run, or else the diffs in its place; at least what is assumed."""
OF_FORECAST: Final = "expected.forecast_c"
"""The diff's temperature expected of the air and track that were typed: the inputs with the origins below."""
FORECAST_AIR: Final = "forecast.air_temp_c"
FORECAST_TRACK: Final = "forecast.track_temp_c"
FORECAST_POSITION: Final = "forecast.position"
"""Typed too, or where the diff that is asked about is in the car."""
FORECAST_OF: Final = "forecast.temperature_of"
"""What a typed temperature is of; a forecast of the diff is made from air and track only."""
_LAST_RUN_IN_WORDS: Final = "expected of the air and track in its last run, where the diff was not measured"
_IN_WORDS: Final = {
    OF_LAST_RUN: _LAST_RUN_IN_WORDS,
    IN_USE: _LAST_RUN_IN_WORDS,
    IN_USE_HIGH: "the upper end of what is expected, where the diff was not measured",
    FORECAST_POSITION: "where the diff ran last or sits in a car, else its usual place",
    HOTTEST: "the hottest measured after a run, of the diff or else of its place; 60 °C if that is less",
    OF_FORECAST: "expected of that air and track, from your own measured days",
}
_TYPED: Final = frozenset({FORECAST_AIR, FORECAST_TRACK, FORECAST_OF})


def output_named(same_as: str) -> str | None:
    """The output that an origin names; None where it names something else.

    >>> output_named("results.damping_nm_s"), output_named("builds.oil_mass_g")
    ('damping_nm_s', None)
    """
    name = same_as.removeprefix(RESULTS)
    return name if name != same_as and name.isidentifier() else None


def is_named_origin(same_as: str) -> bool:
    """Whether an origin is one of these."""
    return same_as in _IN_WORDS or same_as in _TYPED or output_named(same_as) is not None


def named_origin_in_words(same_as: str) -> str:
    """Such an origin for people; empty for what is only typed.

    >>> named_origin_in_words("results.damping_nm_s"), named_origin_in_words(FORECAST_AIR)
    ('what was kept of it last', '')
    """
    return "what was kept of it last" if output_named(same_as) else _IN_WORDS.get(same_as, "")
