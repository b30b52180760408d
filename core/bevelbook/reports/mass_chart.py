"""Mass lost over runs, build by build with limits and date: the chart of one diff, and that of the last builds."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from math import floor
from typing import Any, Final

from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.facts.builds import newest_first
from bevelbook.facts.kept_facts import facts_of_some
from bevelbook.facts.leak import Leak, leaks_of
from bevelbook.formulas.leak import NEVER_CHECKED, is_scale_checked
from bevelbook.formulas.leak_rate import POINTS_FOR_A_TREND
from bevelbook.formulas.oil_limits import limit_in_words
from bevelbook.formulas.runs_left_words import UNCLEAR_IF_ANY, is_limit_undecided
from bevelbook.records.facts import BuildFacts

Row = Mapping[str, Any]

LONGEST_NAME: Final = 22
NAMES_APART: Final = 0.12
"""Limits nearer than this share of the panel's height share a label."""
LAST_BUILDS: Final = 12

COLUMNS: Final = (
    ("build_label", "Build"),
    ("mass_basis", "On the scale"),
    ("day", "Day"),
    ("runs", "Runs"),
    ("mass_g", "Mass [g]"),
    ("lost_g", "Lost [g]"),
    ("loss_low_g", "Newest loss from [g]"),
    ("loss_high_g", "To [g] (k = 2)"),
    ("caution_g", "Look at it [g]"),
    ("stop_g", "Open it [g]"),
    ("stop_whose", "Limit from"),
    ("opened_runs", "Opened at run"),
    ("limit_g", "Date for a loss of [g]"),
    ("limit_runs", "Expected at run"),
    ("limit_runs_low", "From run"),
    ("limit_runs_high", "To run"),
    ("date_words", "Date in words"),
)


_NEW_LINE: Final = "\n"
"""A panel's heading has a line for each part of a sentence: a long line would be wider than a phone."""
ABOUT: Final = (
    "Grams lost since the first mass, against runs, with the limits: our own figure (5 and 10 % of the oil "
    "put in), or yours. A date (95 %) needs five weighings that lie on a line. Hollow points: mass basis not "
    "recorded. The bar: the newest loss with its uncertainty (k = 2)."
)


def masses_of_diff(connection: sqlite3.Connection, diff: str, builds: int) -> list[Row]:
    """The rows of the chart for the newest builds of a diff (by id), the newest first."""
    found = connection.execute(
        f"SELECT b.id, b.label FROM builds b WHERE b.diff = ? ORDER BY {newest_first('b')} LIMIT ?", (diff, builds)
    )
    return list(_drawn(connection, [(row[0], row[1]) for row in found]))


def last_masses(connection: sqlite3.Connection) -> list[Row]:
    """The rows of the chart for the last builds of all diffs, the newest ``LAST_BUILDS``, by the diff's name."""
    found = connection.execute(
        "SELECT id, label FROM (SELECT b.id, b.label, d.label AS diff FROM diff_facts s "
        "JOIN builds b ON b.id = s.current_build JOIN diffs d ON d.id = s.diff "
        f"ORDER BY {newest_first('b')} LIMIT ?) ORDER BY diff, id",
        (LAST_BUILDS,),
    )
    return list(_drawn(connection, [(row[0], row[1]) for row in found]))


def _drawn(connection: sqlite3.Connection, builds: Sequence[tuple[str, str]]) -> Iterator[Row]:
    """The masses of builds (id, label), build after build, with loss, limits, date, and day of opening.

    What applies to the whole build is in its first row only. Builds that were not weighed twice are left out.
    """
    stories = leaks_of(connection, [build for build, _ in builds])
    facts = facts_of_some(connection, BuildFacts, stories)
    shown = [(build, label) for build, label in builds if build in stories]
    labels = [label for _, label in shown]
    highest_g = max((max(_lost_g(stories[build])[-1], *_interval_g(stories[build])) for build, _ in shown), default=0.0)
    for order, (build, label) in enumerate(shown):
        story = stories[build]
        lost = _lost_g(story)
        first = story.weighed.masses[0]
        opened = facts[build].runs if facts[build].opened_on else None
        of_build = _of_build(_name({"build_label": label, "day": first.day}, labels), story, opened, lost[-1])
        for place, mass in enumerate(story.weighed.masses):
            yield {
                **dict.fromkeys(of_build),
                "build_label": label,
                "mass_basis": mass.mass_basis,
                "day": mass.day,
                "runs": mass.runs,
                "mass_g": mass.mass_g,
                **(of_build | _names(of_build, highest_g, story.weighed.limits.typed_g) if place == 0 else {}),
                "panel": of_build["panel"],
                "panel_order": order,
                "first": place == 0,
                "lost_g": lost[place],
            }


def _lost_g(story: Leak) -> list[float]:
    """What is missing at each mass, less the water that a sister housing shows."""
    return [round(story.loss.first_mass_g - one.mass_g, 4) + 0.0 for one in story.weighed.readings]


def _interval_g(story: Leak) -> tuple[float, float]:
    """From where to where the newest loss may be (k = 2)."""
    loss = story.loss
    return round(loss.loss_g - loss.uncertainty_g, 4) + 0.0, round(loss.loss_g + loss.uncertainty_g, 4) + 0.0


def _interval(story: Leak) -> dict[str, float | None]:
    """The same with the runs at which it is drawn; None where there is no run between the masses."""
    if story.is_without_runs:
        return dict.fromkeys(("loss_runs", "loss_low_g", "loss_high_g"))
    low_g, high_g = _interval_g(story)
    return {"loss_runs": story.loss.last_runs, "loss_low_g": low_g, "loss_high_g": high_g}


def _name(row: Row, labels: Sequence[str]) -> str:
    """The title of a build's panel: its label, cut to fit a phone, and its day where two builds share the label."""
    label: str = row["build_label"]
    short = label if len(label) <= LONGEST_NAME else f"{label[: LONGEST_NAME - 1]}…"
    return f"{short} ({row['day']})" if labels.count(label) > 1 else short


def _of_build(name: str, story: Leak, opened_runs: float | None, last_lost_g: float) -> dict[str, Any]:
    limits, found = story.weighed.limits, story.found
    date = _date_words(story)
    dated = found is not None and found.runs_to_limit is not None
    opened = "" if opened_runs is None else f", opened at run {opened_runs:g}"
    caution_g = None if limits.caution_g == limits.stop_g else limits.caution_g
    return {
        "caution_g": None if caution_g is None else round(caution_g, 4),
        "stop_g": None if limits.stop_g is None else round(limits.stop_g, 4),
        "stop_whose": limits.owner,
        "caution_words": "",
        "stop_words": "",
        "opened_runs": opened_runs,
        "opened_lost_g": None if opened_runs is None else last_lost_g,
        **_interval(story),
        "limit_g": limits.stop_g if dated else None,
        "limit_runs": found.runs_to_limit if found else None,
        "limit_runs_low": found.runs_to_limit_low if found and dated else None,
        "limit_runs_high": found.runs_to_limit_high if found else None,
        "date_words": date,
        "panel": f"{name}{opened}\n{date.replace('; ', ';' + _NEW_LINE)}",
    }


def _date_words(story: Leak) -> str:
    found = story.found
    if found is None or story.is_unclear_without_runs or story.is_unclear_by_weighings:
        return f"no date: {story.judgement.reasons[0]}"
    if not is_scale_checked(story.given):
        return f"no date: {NEVER_CHECKED}"
    if found.runs_to_limit is not None and found.runs_to_limit_low is not None and found.runs_to_limit_high is not None:
        at, low, high = map(_run, (found.runs_to_limit, found.runs_to_limit_low, found.runs_to_limit_high))
        reached, stop_g = f"run {at} ({low} to {high})", story.weighed.limits.stop_g
        if stop_g is not None and is_limit_undecided(story.loss.loss_g, story.loss.uncertainty_g, stop_g):
            return f"{UNCLEAR_IF_ANY}; by the trend the limit is at {reached}"
        return f"limit expected at {reached}"
    if found.loss_g_per_run is None:
        count = len(found.rows) + 1
        if count < POINTS_FOR_A_TREND:
            return f"{POINTS_FOR_A_TREND} weighings are needed to predict a date; there are {count}"
        return f"no date: the {count} weighings do not lie on a line"
    if story.weighed.limits.stop_g is None:
        return "no date: the oil put in is not known"
    unknown = "no date: the trend is not distinguishable from zero"
    if found.runs_to_limit_low is None:
        return unknown
    return f"{unknown}; at least {floor(found.runs_to_limit_low)} runs from the build (95 %)"


def _run(runs: float) -> str:
    return f"{runs:.1f}" if abs(runs) < 100 else f"{runs:.0f}"


def _names(of_build: Row, highest_g: float, typed_g: float | None) -> dict[str, str | None]:
    """The labels of the two limits, in one where they would overlap."""
    caution_g, stop_g = of_build["caution_g"], of_build["stop_g"]
    if stop_g is None:
        return {}
    stop = f"open it ({of_build['stop_whose']})"
    if caution_g is None:
        return {"stop_words": f"{stop}: {limit_in_words(stop_g, typed_g)}"}
    if stop_g - caution_g < NAMES_APART * max(highest_g, stop_g):
        both = f"look at it: {limit_in_words(caution_g, typed_g)}; {stop}: {limit_in_words(stop_g, typed_g)}"
        return {"stop_words": both}
    return {
        "caution_words": f"look at it: {limit_in_words(caution_g, typed_g)}",
        "stop_words": f"{stop}: {limit_in_words(stop_g, typed_g)}",
    }


def _axis(field: str, title: str | None, **more: Any) -> dict[str, Any]:
    return {"field": field, "type": "quantitative", "title": title, **more}


def _sign(word: str) -> dict[str, Any]:
    return {
        "datum": word,
        "type": "nominal",
        "scale": {"domain": ["weighed", "opened", "limit expected"], "range": ["circle", "triangle-down", "diamond"]},
        "legend": {"title": None, "symbolSize": 90, "columns": 3},
    }


def _once(*fields: str) -> dict[str, Any]:
    """One value per build, 0 where a column is empty: a layer without values would leave its scales without ends."""
    known = [{"calculate": f"isValid(datum.{field}) ? datum.{field} : 0", "as": f"{field}_at"} for field in fields]
    return {"transform": [{"filter": "datum.first"}, *known]}


def _seen(column: str) -> dict[str, Any]:
    return {"condition": {"test": f"isValid(datum.{column})", "value": 1}, "value": 0}


_RUNS: Final = "runs since the build"
_LOST: Final = "lost [g]"
_RUNS_AXIS: Final = {
    "tickMinStep": 1,
    "format": "d",
    "labelExpr": "datum.value === floor(datum.value) ? datum.label : ''",
}
"""Over few runs the steps are halves all the same: those have no number."""


def _rule(field: str, words: str) -> list[dict[str, Any]]:
    """A limit as a ruled line with its name at the end."""
    height = _axis(f"{field}_at", _LOST)
    name = {"type": "text", "align": "right", "baseline": "bottom", "dx": -2, "dy": -2}
    return [
        {
            **_once(field),
            "mark": {"type": "rule", "strokeDash": [6, 4]},
            "encoding": {"y": height, "opacity": _seen(field)},
        },
        {
            **_once(field),
            "mark": name,
            "encoding": {
                "x": {"value": "width"},
                "y": height,
                "text": {"field": words, "type": "nominal"},
                "opacity": _seen(words),
            },
        },
    ]


_BAR: Final = (
    {
        **_once("loss_runs", "loss_low_g", "loss_high_g"),
        "mark": {"type": "rule", "strokeWidth": 1.5},
        "encoding": {
            "x": _axis("loss_runs_at", _RUNS),
            "y": _axis("loss_low_g_at", _LOST),
            "y2": {"field": "loss_high_g_at"},
            "opacity": _seen("loss_low_g"),
        },
    },
    *(
        {
            **_once("loss_runs", end),
            "mark": {"type": "tick", "orient": "horizontal", "size": 10, "thickness": 1.5},
            "encoding": {
                "x": _axis("loss_runs_at", _RUNS),
                "y": _axis(f"{end}_at", _LOST),
                "opacity": _seen(end),
            },
        }
        for end in ("loss_low_g", "loss_high_g")
    ),
)
"""The newest loss with its interval, as a bar with two ends."""


SPEC: Final[Mapping[str, Any]] = {
    "facet": {
        "field": "panel",
        "type": "nominal",
        "sort": {"field": "panel_order", "op": "min"},
        "title": None,
        "header": {
            "labelExpr": r"split(datum.value, '\n')",
            "labelAnchor": "start",
            "labelAlign": "left",
            "labelLimit": 0,
            "labelPadding": 6,
        },
    },
    "columns": 1,
    "spacing": 18,
    "spec": {
        "width": 1000,
        "height": 150,
        "layer": [
            {
                "mark": {"type": "line", "strokeWidth": 1.5},
                "encoding": {"x": _axis("runs", _RUNS, axis=_RUNS_AXIS), "y": _axis("lost_g", _LOST)},
            },
            {
                "mark": {"type": "point", "size": 50, "opacity": 1, "strokeWidth": 1.5},
                "encoding": {
                    "x": _axis("runs", _RUNS),
                    "y": _axis("lost_g", _LOST, axis={"tickCount": 4}),
                    "shape": _sign("weighed"),
                    "fillOpacity": {
                        "condition": {"test": f"datum.mass_basis === '{NOT_SAID}'", "value": 0},
                        "value": 1,
                    },
                },
            },
            *_BAR,
            *_rule("caution_g", "caution_words"),
            *_rule("stop_g", "stop_words"),
            {
                **_once("opened_runs", "opened_lost_g"),
                "mark": {"type": "point", "filled": True, "size": 80, "yOffset": -10},
                "encoding": {
                    "x": _axis("opened_runs_at", _RUNS),
                    "y": _axis("opened_lost_g_at", _LOST),
                    "opacity": _seen("opened_runs"),
                    "shape": _sign("opened"),
                },
            },
            {
                **_once("limit_runs_low", "limit_runs_high", "limit_g"),
                "mark": {"type": "rule", "strokeWidth": 5},
                "encoding": {
                    "x": _axis("limit_runs_low_at", _RUNS),
                    "x2": {"field": "limit_runs_high_at"},
                    "y": _axis("limit_g_at", _LOST),
                    "opacity": _seen("limit_runs"),
                },
            },
            {
                **_once("limit_runs", "limit_g"),
                "mark": {"type": "point", "filled": True, "size": 90},
                "encoding": {
                    "x": _axis("limit_runs_at", _RUNS),
                    "y": _axis("limit_g_at", _LOST),
                    "opacity": _seen("limit_runs"),
                    "shape": _sign("limit expected"),
                },
            },
        ],
    },
}
"""One panel for each build; rows as ``drawn_rows`` makes them."""
