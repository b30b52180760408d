"""The bundled charts: what the team's records and the calculators show better as a picture than as a number."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from bevelbook import Chart, Curve, hookimpl
from bevelbook.physics.blending import cube_root_blend_cst, log_blend_cst, refutas_blend_cst
from bevelbook_plugins.leaks import CAUTION_SHARE, STOP_SHARE

EXAMPLE_BLEND_CST: Final = (5_000.0, 10_000.0)
LOOK_AT_IT_KPA: Final = 50.0
"""The limit that the calculator for room for heat proposes."""

WHOLE: Final = {"tickMinStep": 1, "format": "~g"}


def _axis(field: str, title: str, **more: Any) -> dict[str, Any]:
    return {"field": field, "type": "quantitative", "title": title, **more}


def _limit(field: str, words: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """A ruled line at the mean of a column, with its name."""
    height = {"aggregate": "mean", "field": field, "type": "quantitative"}
    return (
        {"mark": {"type": "rule", "strokeDash": [6, 4]}, "encoding": {"y": height}},
        {"mark": {"type": "text", "align": "left", "x": 6, "dy": -8, "text": words}, "encoding": {"y": height}},
    )


def _end_labels(label: str, last: str, encoding: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """The name of each line at its end, in place of a legend."""
    return {
        "transform": [
            {"joinaggregate": [{"op": "max", "field": last, "as": "end"}], "groupby": [label]},
            {"filter": f"datum.{last} === datum.end"},
        ],
        "mark": {"type": "text", "align": "right", "dx": -2, "dy": -9},
        "encoding": {**(encoding or {}), "text": {"field": label, "type": "nominal"}},
    }


_LOST_OVER_RUNS: Final = {
    "x": _axis("runs", "runs since the build", axis=WHOLE),
    "y": _axis("lost_g", "lost [g]"),
    "detail": {"field": "build", "type": "nominal"},
}


VISCOSITY_TEMPERATURE: Final = Chart(
    "viscosity-temperature",
    "Viscosity against temperature",
    "Each fluid of the team whose viscosity at 25 °C is known, from 0 to 60 °C by the calculator's law.",
    (
        ("fluid", "Fluid"),
        ("temperature_c", "Temperature [°C]"),
        ("viscosity_at_temperature_cst", "Viscosity [cSt]"),
    ),
    {
        "height": 380,
        "encoding": {
            "x": _axis("temperature_c", "temperature of the oil [°C]"),
            "y": _axis("viscosity_at_temperature_cst", "viscosity [cSt]", scale={"type": "log", "nice": True}),
            "detail": {"field": "fluid", "type": "nominal"},
        },
        "layer": [{"mark": {"type": "line", "strokeWidth": 1.5}}, _end_labels("fluid", "temperature_c")],
    },
    sql="""
    SELECT label AS fluid, viscosity_cst FROM fluids WHERE viscosity_cst IS NOT NULL ORDER BY viscosity_cst LIMIT 30
    """,
    curve=Curve(
        "viscosity",
        "temperature_c",
        0.0,
        60.0,
        ("viscosity_at_temperature_cst",),
        given={"viscosity_cst": "7000", "temperature_c": "25"},
        points=13,
    ),
    empty="No fluid has a viscosity yet.",
)

VISCOSITY_OF_ONE: Final = Chart(
    "viscosity-of-one",
    "This oil against temperature",
    "The oil given, from 0 to 60 °C.",
    (("temperature_c", "Temperature [°C]"), ("viscosity_at_temperature_cst", "Viscosity [cSt]")),
    {
        "encoding": {
            "x": _axis("temperature_c", "temperature of the oil [°C]"),
            "y": _axis("viscosity_at_temperature_cst", "viscosity [cSt]", scale={"zero": False}),
        },
        "mark": {"type": "line", "strokeWidth": 1.5},
    },
    curve=Curve(
        "viscosity",
        "temperature_c",
        0.0,
        60.0,
        ("viscosity_at_temperature_cst",),
        given={"viscosity_cst": "7000", "temperature_c": "25"},
        points=13,
    ),
)

MASS_LOST: Final = Chart(
    "mass-lost",
    "Mass lost over runs",
    "The last build of each diff: grams lost since it was closed, against its runs, and the limits of leak-trend. "
    "Closed, wiped diffs only; a star stands where a trend reaches the limit.",
    (
        ("diff", "Diff"),
        ("build", "Build"),
        ("runs", "Runs"),
        ("mass_g", "Mass [g]"),
        ("lost_g", "Lost [g]"),
        ("caution_g", "Look at it [g]"),
        ("stop_g", "Open it [g]"),
        ("limit_runs", "Limit reached at run"),
    ),
    {
        "height": 340,
        "layer": [
            {"mark": {"type": "line", "strokeWidth": 1.5}, "encoding": _LOST_OVER_RUNS},
            {
                "mark": {"type": "point", "filled": True, "size": 60},
                "encoding": {**_LOST_OVER_RUNS, "shape": {"field": "diff", "type": "nominal", "legend": None}},
            },
            _end_labels("build", "runs", _LOST_OVER_RUNS),
            *_limit("caution_g", "look at it (proposal)"),
            *_limit("stop_g", "open it (proposal)"),
            {
                "transform": [
                    {"calculate": "isValid(datum.limit_runs) ? datum.limit_runs : datum.runs", "as": "star_runs"}
                ],
                "mark": {"type": "text", "text": "★", "fontSize": 18},
                "encoding": {
                    "x": _axis("star_runs", ""),
                    "y": _axis("stop_g", ""),
                    "opacity": {"condition": {"test": "isValid(datum.limit_runs)", "value": 1}, "value": 0},
                },
            },
        ],
    },
    sql=f"""
    WITH latest AS (
        SELECT d.label AS diff, (SELECT b.id FROM builds b WHERE b.diff = d.id
               ORDER BY b.built_on DESC, b.note_line DESC, b.created_at DESC, b.id DESC LIMIT 1) AS id
        FROM diffs d
    ),
    weighed AS (
        SELECT l.diff, l.id, b.label AS build, 0.0 AS runs, b.closed_mass_g AS mass_g, b.oil_mass_g
        FROM latest l JOIN builds b ON b.id = l.id WHERE b.closed_mass_g IS NOT NULL
        UNION ALL
        SELECT l.diff, l.id, b.label, coalesce(w.runs, (
                   SELECT coalesce(sum(coalesce(r.runs, 1)), 0) FROM run_diffs x JOIN runs r ON r.id = x.run
                   WHERE x.build = w.build AND r.run_on <= w.weighed_on), 0.0), w.mass_g, b.oil_mass_g
        FROM latest l JOIN builds b ON b.id = l.id JOIN weighings w ON w.build = b.id WHERE w.mass_basis = 'closed'
    )
    SELECT diff, build, runs, mass_g,
           round(first_value(mass_g) OVER (PARTITION BY build ORDER BY runs) - mass_g, 4) AS lost_g,
           round({CAUTION_SHARE} * oil_mass_g, 4) AS caution_g, round({STOP_SHARE} * oil_mass_g, 4) AS stop_g,
           (SELECT json_extract(c.found, '$.runs_to_limit') FROM calculations c
            WHERE c.calculator = 'leak-trend' AND c.subject_table = 'builds' AND c.subject_id = weighed.id
            ORDER BY c.version DESC, c.calculated_at DESC LIMIT 1) AS limit_runs
    FROM weighed ORDER BY diff, runs
    """,
    empty="No closed diff was weighed yet.",
)

FILLS: Final = Chart(
    "fills",
    "How near fills come to their target",
    "Oil put in minus the target, build by build, with the person's initial or name.",
    (
        ("place", "Fill"),
        ("build", "Build"),
        ("person", "Who"),
        ("target_oil_mass_g", "Target [g]"),
        ("oil_mass_g", "Put in [g]"),
        ("difference_g", "Difference [g]"),
    ),
    {
        "layer": [
            {"mark": {"type": "rule"}, "encoding": {"y": {"datum": 0}}},
            {
                "mark": {"type": "point", "filled": True, "size": 60},
                "encoding": {
                    "x": _axis("place", "fill, in order", axis=WHOLE),
                    "y": _axis("difference_g", "put in minus target [g]"),
                    "shape": {"field": "person", "type": "nominal", "title": "who"},
                },
            },
        ],
    },
    sql="""
    SELECT row_number() OVER (ORDER BY b.built_on, b.created_at, b.id) AS place, b.label AS build, p.name AS person,
           b.target_oil_mass_g, b.oil_mass_g, round(b.oil_mass_g - b.target_oil_mass_g, 4) AS difference_g
    FROM builds b LEFT JOIN people p ON p.id = b.builder
    WHERE b.oil_mass_g IS NOT NULL AND b.target_oil_mass_g IS NOT NULL
    ORDER BY b.built_on DESC, b.created_at DESC, b.id DESC LIMIT 200
    """,
    empty="No build has both a target and the oil put in.",
)

RUNS_BY_GRIP: Final = Chart(
    "runs-by-grip",
    "What was run in which grip",
    "Each diff in each run: oil against track temperature, grip by grip. Hollow: the diff was not known to be full.",
    (
        ("run_on", "Day"),
        ("venue", "Venue"),
        ("grip", "Grip"),
        ("track_temp_c", "Track [°C]"),
        ("position", "Place"),
        ("viscosity_cst", "Oil [cSt]"),
        ("call", "Call"),
        ("doubtful", "Full?"),
    ),
    {
        "facet": {"row": {"field": "grip", "type": "nominal", "sort": ["low", "medium", "high"], "title": "grip"}},
        "spec": {
            "width": 520,
            "height": 170,
            "mark": {"type": "point", "size": 70},
            "encoding": {
                "x": _axis("track_temp_c", "track [°C]", scale={"zero": False}),
                "y": _axis("viscosity_cst", "oil at 25 °C [cSt]", scale={"type": "log"}),
                "shape": {
                    "field": "call",
                    "type": "nominal",
                    "title": "call",
                    "scale": {
                        "domain": ["keep", "change", "undecided", "broke"],
                        "range": ["circle", "cross", "triangle-up", "diamond"],
                    },
                },
                "fillOpacity": {"condition": {"test": "datum.doubtful === 'full'", "value": 1}, "value": 0},
            },
        },
    },
    sql="""
    SELECT run_on, venue, grip, track_temp_c, position, viscosity_cst, call, doubtful FROM what_worked
    WHERE grip IS NOT NULL AND track_temp_c IS NOT NULL AND viscosity_cst IS NOT NULL
    ORDER BY run_on DESC, day_order DESC LIMIT 1000
    """,
    empty="No run has grip, track temperature and oil together yet.",
)

DAY_DRIFT: Final = Chart(
    "day-drift",
    "Drift of a race day",
    "Mean of the best five laps in the order of the last day that has four or more; a line is the drift of one driver.",
    (
        ("run_on", "Day"),
        ("day_order", "Run of the day"),
        ("venue", "Venue"),
        ("driver", "Driver"),
        ("best_five_s", "Best five [s]"),
    ),
    {
        "encoding": {
            "x": _axis("day_order", "run of the day", axis=WHOLE),
            "y": _axis("best_five_s", "mean of the best five laps [s]", scale={"zero": False}),
        },
        "layer": [
            {
                "mark": {"type": "point", "filled": True, "size": 70},
                "encoding": {"shape": {"field": "driver", "type": "nominal", "title": "driver"}},
            },
            {
                "transform": [{"regression": "best_five_s", "on": "day_order", "groupby": ["driver"]}],
                "mark": {"type": "line", "strokeWidth": 1.5},
                "encoding": {"detail": {"field": "driver", "type": "nominal"}},
            },
        ],
    },
    sql="""
    SELECT r.run_on, r.day_order, v.name AS venue, p.name AS driver, r.best_five_s
    FROM runs r LEFT JOIN venues v ON v.id = r.venue LEFT JOIN people p ON p.id = r.driver
    WHERE r.best_five_s IS NOT NULL AND r.day_order IS NOT NULL AND r.run_on = (
        SELECT run_on FROM runs WHERE best_five_s IS NOT NULL AND day_order IS NOT NULL
        GROUP BY run_on HAVING count(*) >= 4 ORDER BY run_on DESC LIMIT 1)
    ORDER BY r.day_order
    """,
    empty="No day has four runs with their order and best five laps.",
)


def blend_points(given: Any) -> Iterator[Mapping[str, Any]]:
    """Blends of two oils from one to the other: the maker's rule, and the band of two rules to compare with.

    ``given`` are the inputs of the calculator ``blend``; its thinnest and thickest part are taken, 5,000 and 10,000 cSt
    where there are none.
    """
    parts = sorted({part.viscosity_cst for part in given.parts}) if given is not None else []
    thin, thick = (parts[0], parts[-1]) if len(parts) > 1 else EXAMPLE_BLEND_CST
    for percent in range(0, 101, 5):
        shares = (1.0 - percent / 100.0, percent / 100.0)
        yield {
            "thicker_percent": float(percent),
            "blend_cst": log_blend_cst((thin, thick), shares),
            "low_cst": refutas_blend_cst((thin, thick), shares),
            "high_cst": cube_root_blend_cst((thin, thick), shares),
        }


BLEND_LINE: Final = Chart(
    "blend-line",
    "Blend of two oils",
    "Viscosity at 25 °C against the thicker oil's share by mass: the maker's rule as a line, between two other rules.",
    (
        ("thicker_percent", "Thicker oil [% by mass]"),
        ("blend_cst", "Blend [cSt]"),
        ("low_cst", "Lowest rule [cSt]"),
        ("high_cst", "Highest rule [cSt]"),
    ),
    {
        "encoding": {"x": _axis("thicker_percent", "thicker oil [% by mass]")},
        "layer": [
            {
                "mark": {"type": "area", "opacity": 0.25},
                "encoding": {
                    "y": _axis("low_cst", "blend at 25 °C [cSt]", scale={"zero": False}),
                    "y2": {"field": "high_cst"},
                },
            },
            {
                "mark": {"type": "line", "strokeWidth": 2},
                "encoding": {"y": _axis("blend_cst", "blend at 25 °C [cSt]", scale={"zero": False})},
            },
        ],
    },
    points=blend_points,
    calculator="blend",
)

HEAT_ROOM: Final = Chart(
    "heat-room",
    "Room for heat against grams",
    "Gauge pressure in the hot diff against the oil put in; it rises steeply before the diff is full of liquid.",
    (
        ("oil_mass_g", "Oil [g]"),
        ("gauge_pressure_kpa", "Pressure when hot [kPa]"),
        ("gas_fraction_hot", "Air left when hot, share of the room"),
    ),
    {
        "layer": [
            {
                "mark": {"type": "line", "strokeWidth": 2, "point": {"filled": True, "size": 30}},
                "encoding": {
                    "x": _axis("oil_mass_g", "oil put in [g]", scale={"zero": False}),
                    "y": _axis("gauge_pressure_kpa", "pressure when hot, over the air outside [kPa]"),
                },
            },
            {"mark": {"type": "rule"}, "encoding": {"y": {"datum": LOOK_AT_IT_KPA}}},
            {
                "mark": {"type": "text", "align": "left", "x": 6, "dy": -8, "text": "look at it (proposal)"},
                "encoding": {"y": {"datum": LOOK_AT_IT_KPA}},
            },
        ],
    },
    curve=Curve(
        "headspace",
        "oil_mass_g",
        0.75,
        1.12,
        ("gauge_pressure_kpa", "gas_fraction_hot"),
        given={"oil_mass_g": "1.50 g", "free_volume_cm3": "1.80", "viscosity_cst": "7000"},
        relative=True,
        points=38,
    ),
    empty="Give the oil by its mass, and the room for oil.",
)

BUBBLE_TIME: Final = Chart(
    "bubble-time",
    "Time against bubble size",
    "How long a bubble takes to rise through the oil, at least and at most, under the pump and without one.",
    (
        ("bubble_mm", "Bubble [mm]"),
        ("time_low_s", "With the pump, at least [s]"),
        ("time_high_s", "With the pump, at most [s]"),
        ("standing_time_s", "Without, at most [s]"),
    ),
    {
        "encoding": {"x": _axis("bubble_mm", "bubble [mm]", scale={"type": "log"})},
        "layer": [
            {
                "mark": {"type": "area", "opacity": 0.25},
                "encoding": {
                    "y": _axis("time_low_s", "time to rise [s]", scale={"type": "log"}),
                    "y2": {"field": "time_high_s"},
                },
            },
            {
                "mark": {"type": "line", "strokeWidth": 2},
                "encoding": {"y": _axis("time_high_s", "time to rise [s]", scale={"type": "log"})},
            },
            {
                "mark": {"type": "line", "strokeWidth": 1.5, "strokeDash": [5, 4]},
                "encoding": {"y": _axis("standing_time_s", "time to rise [s]", scale={"type": "log"})},
            },
        ],
    },
    curve=Curve(
        "degas",
        "bubble_mm",
        0.2,
        3.0,
        ("time_low_s", "time_high_s", "standing_time_s"),
        given={"viscosity_cst": "7000", "absolute_kpa": "20"},
        logarithmic=True,
        points=25,
    ),
)

CHARTS: Final = (
    VISCOSITY_TEMPERATURE,
    VISCOSITY_OF_ONE,
    MASS_LOST,
    FILLS,
    RUNS_BY_GRIP,
    DAY_DRIFT,
    BLEND_LINE,
    HEAT_ROOM,
    BUBBLE_TIME,
)


@hookimpl
def bevelbook_charts() -> Iterable[Chart]:
    return CHARTS
