"""How warm the diff will be on a day with this air and this track: ``expected-temperature``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Source, Worked, hookimpl
from bevelbook.formulas.expected_temperature import (
    EXPECTED_TEMPERATURE,
    ExpectedFound,
    ExpectedGiven,
    expected_temperature,
    expected_working,
    judge_expected,
)
from bevelbook.stats.prediction import PREDICTION

LIMITS: Final = Source(
    "proposal",
    "eight days or more; inside the range of air and track that was measured in, and not beyond the largest leverage "
    "among the days; no better than a reading off by up to 1 °C either way; over 8 °C either way is a caution",
)
ONE_PREDICTOR: Final = Source(
    "common practice", "two predictors that inflate each other's variance tenfold or more count as one"
)
DELIVERIES: Final = Source(
    "handbook",
    "Introduction to Linear Regression Analysis (Montgomery, Peck, Vining)",
    "John Wiley & Sons",
    "undated",
    "tables 2.11 and 2.12: time = 3.321 + 2.1762 cases",
    "quoted in a web copy of the chapter",
)

EXPECTED: Final[Calculator[ExpectedGiven, ExpectedFound]] = Calculator(
    name="expected-temperature",
    title=EXPECTED_TEMPERATURE.title,
    question="How warm will the diff be on a day like this?",
    purpose="the diff's temperature for a forecast, from your own measured ones",
    version=1,
    given=ExpectedGiven,
    found=ExpectedFound,
    compute=expected_temperature,
    judge=judge_expected,
    working=expected_working,
    answer="expected_temperature_c",
    one_of=EXPECTED_TEMPERATURE.one_of,
    of="run_diff",
    valid=(
        "From eight days with a measured diff on; runs of a day share weather and track, so days count, not runs.",
        "Only inside the air and track that was measured in, each and together; never beyond.",
        "It is what the diff will read as it was read so far; longer runs, another motor, gearing or driver it cannot "
        "tell.",
        "Front and rear warm differently: give the position and only diffs read there count.",
        "Where air and track went up and down together, or one of them is unknown, the other alone is used and it is "
        "said.",
    ),
    sources=(PREDICTION, ONE_PREDICTOR, LIMITS),
    cautions=("hot-parts",),
    worked=(
        Worked(
            {
                "track_temp_c": "5",
                "past": [
                    *(":7:16.68", ":3:11.50", ":3:12.03", ":4:14.88", ":6:13.75", ":7:18.11", ":2:8.00", ":7:17.83"),
                    *(":30:79.24", ":5:21.50", ":16:40.33", ":10:21.00", ":4:13.50", ":6:19.75", ":9:24.00"),
                    *(":10:29.00", ":6:15.35", ":7:19.00", ":3:9.50", ":17:35.10", ":10:17.90", ":26:52.32"),
                    *(":9:18.75", ":8:19.83", ":4:10.75"),
                ],
            },
            {"expected_temperature_c": 3.321 + 2.1762 * 5.0},
            0.001,
            DELIVERIES,
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (EXPECTED,)
