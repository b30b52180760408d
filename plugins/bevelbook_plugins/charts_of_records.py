"""Charts of what the team noted: masses with limits and date, fills, runs by viscosity and grip."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import floor, log10
from typing import Any, Final

from bevelbook import Chart, newest_first, oldest_first, vocabulary
from bevelbook.facts.day_order import last_run_first
from bevelbook.facts.fill_off_target import HAS_TARGET, OFF_TARGET_G
from bevelbook_plugins.fill_repeatability import (
    FEW_FILLS,
    TOO_FEW_FILLS,
    Fill,
    RepeatabilityGiven,
    judge_repeatability,
    repeatability,
)

Row = Mapping[str, Any]
Rows = Sequence[Row]

WHOLE: Final = {"tickMinStep": 1, "format": "d"}
CLOSE: Final = {"nice": False, "zero": False, "padding": 12}
HEADER: Final = {
    "labelExpr": r"split(datum.value, '\n')",
    "labelAnchor": "start",
    "labelAlign": "left",
    "labelLimit": 0,
    "labelPadding": 6,
}
"""The words over a panel, in lines."""
LONGEST_NAME: Final = 16
HOLLOW: Final = {"condition": {"test": "datum.fill_state === 'full'", "value": 1}, "value": 0}
VISCOSITY_TICKS: Final = [step * 10**power for power in range(2, 6) for step in (1, 1.5, 2, 3, 5, 7)]
STACK_DECADES: Final = 0.05
"""Points closer together than this on the logarithmic axis are stacked."""
HIGHEST_STACK: Final = 6


def axis(field: str, title: str, **more: Any) -> dict[str, Any]:
    return {"field": field, "type": "quantitative", "title": title, **more}


def panels(order: str) -> dict[str, Any]:
    """One panel under the other, in the order of a column."""
    sort = {"field": order, "op": "min"}
    return {"field": "panel", "type": "nominal", "sort": sort, "title": None, "header": HEADER}


def _cut(name: str) -> str:
    """A name cut to fit a panel on a phone."""
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"


def _given(rows: Rows) -> RepeatabilityGiven:
    return RepeatabilityGiven(fills=tuple(Fill(difference_g=row["difference_g"], person=row["person"]) for row in rows))


_LIMITS: Final = ("high_limit_g", "centre_g", "low_limit_g", "high_words", "low_words")


def fills_with_limits(rows: Rows) -> Iterator[Row]:
    """Fills in order, with the limits of fill-repeatability in the first row; no limits with under five fills."""
    if len(rows) < TOO_FEW_FILLS:
        unknown = dict.fromkeys((*_LIMITS, "outside", "outside_words"))
        yield from ({**row, **unknown, "place": place} for place, row in enumerate(rows, start=1))
        return
    found = repeatability(_given(rows))
    named = ",\nprovisional" if len(rows) < FEW_FILLS else ""
    values = (found.high_limit_g, found.centre_g, found.low_limit_g, f"upper limit{named}", f"lower limit{named}")
    limits = dict(zip(_LIMITS, values, strict=True))
    for row, charted in zip(rows, found.rows, strict=True):
        yield {
            **row,
            **(limits if charted.order == 1 else dict.fromkeys(limits)),
            "place": charted.order,
            "outside": charted.outside,
            "outside_words": f"{_cut(row['person'] or row['build'])} {row['difference_g']:+.2f} g",
        }


def fills_in_words(rows: Rows) -> str:
    if len(rows) < 2:
        return "A spread needs two fills."
    given = _given(rows)
    judged = judge_repeatability(given, repeatability(given))
    sentences = (f"{words[0].upper()}{words[1:]}" for words in (*judged.reasons, *judged.findings))
    return " ".join(words if words.endswith("?") else f"{words}." for words in sentences)


def _fill_limit(field: str, words: dict[str, Any], baseline: str, **rule: Any) -> list[dict[str, Any]]:
    """A limit as a ruled line with its name at the end, beside the panel."""
    first = [
        {"filter": "datum.place === 1"},
        {"calculate": f"isValid(datum.{field}) ? datum.{field} : datum.difference_g", "as": f"{field}_at"},
    ]
    height = axis(f"{field}_at", "put in minus target [g]")
    seen = {"condition": {"test": f"isValid(datum.{field})", "value": 1}, "value": 0}
    return [
        {"transform": first, "mark": {"type": "rule", **rule}, "encoding": {"y": height, "opacity": seen}},
        {
            "transform": first,
            "mark": {"type": "text", "align": "left", "dx": 5, "baseline": baseline, "lineBreak": "\n"},
            "encoding": {"x": {"value": "width"}, "y": height, "text": words, "opacity": seen},
        },
    ]


_FILL: Final = {
    "x": axis("place", "fill, in order", axis=WHOLE, scale=CLOSE),
    "y": axis("difference_g", "put in minus target [g]"),
}
_OUTSIDE: Final = {"condition": {"test": "datum.outside === 'yes'", "value": 1}, "value": 0}
FILLS: Final = Chart(
    "fills",
    "How near fills come to their target",
    "Oil put in minus the target, fill by fill (the newest 200), with middle and limits as in fill-repeatability; "
    "a ring is outside them. Judge the whole chart by what is said under it: of 100 charts with 20 good fills 5 hold a "
    "false ring.",
    (
        ("place", "Fill"),
        ("build", "Build"),
        ("person", "Who"),
        ("target_oil_mass_g", "Target [g]"),
        ("oil_mass_g", "Put in [g]"),
        ("difference_g", "Difference [g]"),
        ("outside", "Outside"),
        ("low_limit_g", "Lower limit [g]"),
        ("centre_g", "Middle [g]"),
        ("high_limit_g", "Upper limit [g]"),
    ),
    {
        "layer": [
            *_fill_limit("high_limit_g", {"field": "high_words"}, "alphabetic", strokeDash=[6, 4]),
            *_fill_limit("centre_g", {"value": "middle"}, "middle"),
            *_fill_limit("low_limit_g", {"field": "low_words"}, "top", strokeDash=[6, 4]),
            {
                "mark": {"type": "point", "filled": True, "size": 60, "opacity": 1},
                "encoding": {
                    **_FILL,
                    "shape": {"field": "person", "type": "nominal", "title": "who", "legend": {"labelLimit": 110}},
                },
            },
            {
                "mark": {"type": "point", "filled": False, "fill": "transparent", "shape": "circle", "size": 320},
                "encoding": {**_FILL, "opacity": _OUTSIDE},
            },
            {
                "mark": {"type": "text", "align": "left", "dx": 13, "baseline": "middle"},
                "encoding": {**_FILL, "text": {"field": "outside_words", "type": "nominal"}, "opacity": _OUTSIDE},
            },
        ],
    },
    sql=f"""
    SELECT * FROM (
        SELECT b.label AS build, p.name AS person, b.target_oil_mass_g, k.oil_in_g AS oil_mass_g,
               {OFF_TARGET_G} AS difference_g,
               b.built_on, b.day_order, b.note_line, b.created_at, b.id
        FROM builds b JOIN build_facts k ON k.build = b.id LEFT JOIN people p ON p.id = b.builder
        WHERE {HAS_TARGET}
        ORDER BY {newest_first("b")} LIMIT 200
    ) b ORDER BY {oldest_first("b")}
    """,
    made=fills_with_limits,
    summary=fills_in_words,
    empty="No build has both a target and the oil put in.",
)


def runs_in_stacks(rows: Rows) -> list[Row]:
    """Each diff in each run with the viscosity it ran at, and its place in a stack of points.

    The viscosity is that at the diff's measured temperature; where that is not known, that at 25 °C, and the row says
    so.
    It is never filled from the track's temperature.
    """
    drawn: list[dict[str, Any]] = []
    stacks: dict[tuple[object, ...], int] = {}
    for row in sorted(rows, key=lambda row: vocabulary.FILL_STATES.index(row["fill_state"])):
        warm, temperature = row["viscosity_at_diff_temperature_cst"], row["diff_temp_c"]
        viscosity = row["viscosity_cst"] if warm is None else warm
        panel = f"{row['position'] or 'position not recorded'}, {row['grip']} grip"
        stack = (panel, row["call"], floor(log10(viscosity) / STACK_DECADES))
        stacks[stack] = stacks.get(stack, 0) + 1
        if warm is not None:
            how = f"at the diff's {temperature:g} °C"
        elif temperature is None:
            how = "at 25 °C: the diff was not measured"
        else:
            how = f"at 25 °C: not worked out at {temperature:g} °C"
        drawn.append(
            {
                **row,
                "panel": panel,
                "panel_order": _place_of(row["position"], row["grip"]),
                "run_viscosity_cst": viscosity,
                "taken": "at 25 °C, label or bottle" if warm is None else "at the diff's temperature",
                "taken_how": how,
                "nth": stacks[stack],
            }
        )
    highest = max(HIGHEST_STACK, *stacks.values()) if stacks else HIGHEST_STACK
    return [{**row, "stack": (row["nth"] - 0.5) / highest} for row in drawn]


def _place_of(position: str | None, grip: str) -> int:
    return 3 * ("rear", "front", "centre", None).index(position) + vocabulary.GRIPS.index(grip)


def runs_in_words(rows: Rows) -> str:
    warm = sum(row["viscosity_at_diff_temperature_cst"] is not None for row in rows)
    states = [row["fill_state"] for row in rows]
    counts = ", ".join(
        f"{states.count(word)} {word}" for word in vocabulary.FILL_STATES if word in states or word == "full"
    )
    return (
        f"{warm} of {len(rows)} are at the diff's measured temperature, the others at 25 °C, because it is not known "
        f"how warm they were. The diff: {counts}."
    )


RUNS_BY_GRIP: Final = Chart(
    "runs-by-grip",
    "What was run in which grip",
    "Each diff in each run that has a call (the newest 400 runs), by place and grip: the viscosity it ran at, and what "
    "was decided. Hollow points: not known to be full, or not full. In the table, seconds are off the mean of the same "
    "day, venue and driver, with the drift of the day still in them.",
    (
        ("run_on", "Day"),
        ("venue", "Venue"),
        ("grip", "Grip"),
        ("position", "Place"),
        ("build_label", "Build"),
        ("viscosity_cst", "At 25 °C [cSt]"),
        ("diff_temp_c", "Diff [°C]"),
        ("viscosity_at_diff_temperature_cst", "At that [cSt]"),
        ("run_viscosity_cst", "Drawn [cSt]"),
        ("taken_how", "Which"),
        ("call", "Call"),
        ("fill_state", "Full?"),
        ("off_mean_s", "Off the day's mean [s]"),
    ),
    {
        "facet": panels("panel_order"),
        "columns": 1,
        "spacing": 18,
        "resolve": {"axis": {"x": "independent"}},
        "spec": {
            "width": 800,
            "height": {"step": 60},
            "mark": {"type": "point", "size": 40, "opacity": 1, "strokeWidth": 1.3},
            "encoding": {
                "x": axis(
                    "run_viscosity_cst",
                    "viscosity it ran at [cSt]",
                    scale={"type": "log", "nice": False, "padding": 16},
                    axis={"values": VISCOSITY_TICKS, "format": ",.0f"},
                ),
                "y": {
                    "field": "call",
                    "type": "nominal",
                    "title": None,
                    "sort": ["keep", "undecided", "change", "broke"],
                    "axis": {"grid": True, "tickBand": "extent"},
                },
                "yOffset": {"field": "stack", "type": "quantitative", "scale": {"domain": [1, -0.1]}},
                "shape": {
                    "field": "taken",
                    "type": "nominal",
                    "title": "viscosity",
                    "scale": {
                        "domain": ["at the diff's temperature", "at 25 °C, label or bottle"],
                        "range": ["circle", "triangle-up"],
                    },
                    "legend": {"columns": 1},
                },
                "fillOpacity": HOLLOW,
            },
        },
    },
    sql=f"""
    WITH chosen AS (
        SELECT r.id, r.run_on, r.venue, r.driver FROM runs r WHERE r.grip IS NOT NULL AND r.call IS NOT NULL
        ORDER BY {last_run_first()} LIMIT 400
    ),
    times AS (
        SELECT c.id, coalesce(
                   q.best_five_s, (SELECT max(w.best_five_s) FROM what_worked w WHERE w.run = q.id)
               ) AS best_five_s
        FROM chosen c JOIN runs q ON q.run_on = c.run_on AND q.venue = c.venue AND q.driver = c.driver
    ),
    timed AS (
        SELECT id, avg(best_five_s) AS mean_s FROM times
        WHERE best_five_s IS NOT NULL GROUP BY id HAVING count(*) >= 2
    )
    SELECT w.run_on, w.venue, w.grip, w.position, w.build_label, w.viscosity_cst, w.diff_temp_c,
           w.viscosity_at_diff_temperature_cst, w.call, w.fill_state,
           round(w.best_five_s - timed.mean_s, 3) AS off_mean_s
    FROM chosen CROSS JOIN runs r ON r.id = chosen.id CROSS JOIN what_worked w ON w.run = r.id
    LEFT JOIN timed ON timed.id = r.id
    WHERE coalesce(w.viscosity_at_diff_temperature_cst, w.viscosity_cst) > 0
    ORDER BY {last_run_first()}, w.position, w.run_diff
    """,
    made=runs_in_stacks,
    summary=runs_in_words,
    empty="No run has grip, a call and the viscosity of its oil together yet.",
)
