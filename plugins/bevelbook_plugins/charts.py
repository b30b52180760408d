"""The bundled charts: what is easier to see in a picture than in numbers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final

from bevelbook import Chart, Curve, hookimpl
from bevelbook.physics.blending import cube_root_blend_cst, log_blend_cst, refutas_blend_cst
from bevelbook_plugins.charts_of_records import FILLS, RUNS_BY_GRIP, axis

EXAMPLE_BLEND_CST: Final = (5_000.0, 10_000.0)
LOOK_AT_IT_KPA: Final = 50.0
"""The limit proposed by the headspace calculator."""
ONCE: Final = [{"window": [{"op": "row_number", "as": "nth"}]}, {"filter": "datum.nth === 1"}]
"""For what is the same for every row, and drawn once."""


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
            "x": axis("temperature_c", "temperature of the oil [°C]"),
            "y": axis("viscosity_at_temperature_cst", "viscosity [cSt]", scale={"type": "log", "nice": True}),
            "detail": {"field": "fluid", "type": "nominal"},
        },
        "layer": [{"mark": {"type": "line", "strokeWidth": 1.5}}, _end_labels("fluid", "temperature_c")],
    },
    sql="""
    SELECT label AS fluid, viscosity_cst FROM fluids WHERE viscosity_cst IS NOT NULL ORDER BY viscosity_cst, id LIMIT 30
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
            "x": axis("temperature_c", "temperature of the oil [°C]"),
            "y": axis("viscosity_at_temperature_cst", "viscosity [cSt]", scale={"zero": False}),
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


def blend_points(given: Any) -> Iterator[Mapping[str, Any]]:
    """Blends of two oils from one to the other: the maker's rule, and the band of two rules to compare with.

    ``given`` are the inputs of the calculator ``blend``; its thinnest and thickest part are taken, 5,000 and 10,000 cSt
    if there are none.
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
        "encoding": {"x": axis("thicker_percent", "thicker oil [% by mass]")},
        "layer": [
            {
                "mark": {"type": "area", "opacity": 0.25},
                "encoding": {
                    "y": axis("low_cst", "blend at 25 °C [cSt]", scale={"zero": False}),
                    "y2": {"field": "high_cst"},
                },
            },
            {
                "mark": {"type": "line", "strokeWidth": 2},
                "encoding": {"y": axis("blend_cst", "blend at 25 °C [cSt]", scale={"zero": False})},
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
        ("gas_fraction_hot", "Air left when hot, share of the room when closed"),
    ),
    {
        "layer": [
            {
                "mark": {"type": "line", "strokeWidth": 2, "point": {"filled": True, "size": 30}},
                "encoding": {
                    "x": axis("oil_mass_g", "oil put in [g]", scale={"zero": False}),
                    "y": axis("gauge_pressure_kpa", "pressure when hot, over the air outside [kPa]"),
                },
            },
            {"transform": ONCE, "mark": {"type": "rule"}, "encoding": {"y": {"datum": LOOK_AT_IT_KPA}}},
            {
                "transform": ONCE,
                "mark": {"type": "text", "align": "left", "x": 6, "dy": -8, "text": "look at it (our default)"},
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
        given={"oil_mass_g": "1.86 g", "free_volume_cm3": "2.26", "viscosity_cst": "7000"},
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
        "encoding": {"x": axis("bubble_mm", "bubble [mm]", scale={"type": "log"})},
        "layer": [
            {
                "mark": {"type": "area", "opacity": 0.25},
                "encoding": {
                    "y": axis("time_low_s", "time to rise [s]", scale={"type": "log"}),
                    "y2": {"field": "time_high_s"},
                },
            },
            {
                "mark": {"type": "line", "strokeWidth": 2},
                "encoding": {"y": axis("time_high_s", "time to rise [s]", scale={"type": "log"})},
            },
            {
                "mark": {"type": "line", "strokeWidth": 1.5, "strokeDash": [5, 4]},
                "encoding": {"y": axis("standing_time_s", "time to rise [s]", scale={"type": "log"})},
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
    FILLS,
    RUNS_BY_GRIP,
    BLEND_LINE,
    HEAT_ROOM,
    BUBBLE_TIME,
)


@hookimpl
def bevelbook_charts() -> Iterable[Chart]:
    return CHARTS
