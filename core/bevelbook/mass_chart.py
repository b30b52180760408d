"""Mass lost over runs, build by build with limits and date: the chart of one diff, and that of the last build of each.

The limits are 5 % and 10 % of the oil put in (this project's proposal) or the team's own; the date is the one that
``leak-trend`` found and that was kept, never another.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any, Final

from bevelbook.physics.oil_lost import CAUTION_SHARE, STOP_SHARE

Row = Mapping[str, Any]

LIMITS_APART_G: Final = 0.001
"""The date is for another limit than the one drawn where they differ by more."""
LONGEST_NAME: Final = 22
NAMES_APART: Final = 0.12
"""Limits nearer than this share of the panel's height have one name together."""


def _own_limit(kind: str) -> str:
    """The team's limit of a kind for the build ``b``: that of its diff before that of all, 0 being none."""
    last = (
        f"SELECT value FROM limits WHERE kind = '{kind}' AND limits.diff IS {{}} ORDER BY created_at DESC, id DESC "
        "LIMIT 1"
    )
    return f"coalesce(nullif(({last.format('b.diff')}), 0), nullif(({last.format('NULL')}), 0))"


BUILD_COLUMNS: Final = f"""
    b.id AS build, b.label AS build_label, coalesce(b.oil_mass_g, b.filled_mass_g - b.dry_mass_g) AS oil_mass_g,
    {_own_limit("oil lost as a share")} AS own_share, {_own_limit("oil lost in grams")} AS own_g,
    (SELECT json_object('given', json(c.given), 'found', json(c.found)) FROM calculations c
     WHERE +c.calculator = 'leak-trend' AND c.subject_table = 'builds' AND c.subject_id = b.id
     ORDER BY c.version DESC, c.calculated_at DESC, c.id DESC LIMIT 1) AS trend,
    CASE WHEN EXISTS (SELECT 1 FROM openings o WHERE o.build = b.id) THEN
        (SELECT coalesce(sum(coalesce(r.runs, 1)), 0.0) FROM run_diffs x JOIN runs r ON r.id = x.run
         WHERE x.build = b.id) END AS opened_runs
"""
"""What of a build ``b`` stands beside its masses, for a SELECT. Asked build by build, through indexes."""

COLUMNS: Final = (
    ("build_label", "Build"),
    ("mass_basis", "On the pan"),
    ("day", "Day"),
    ("runs", "Runs"),
    ("mass_g", "Mass [g]"),
    ("lost_g", "Lost [g]"),
    ("caution_g", "Look at it [g]"),
    ("stop_g", "Open it [g]"),
    ("stop_whose", "Whose limit"),
    ("opened_runs", "Opened at run"),
    ("limit_g", "Date for a loss of [g]"),
    ("limit_runs", "Expected at run"),
    ("limit_runs_low", "From run"),
    ("limit_runs_high", "To run"),
    ("date_words", "Date in words"),
)


ABOUT: Final = (
    "Grams lost since the first mass, against runs, with the limits: this project's proposal (5 and 10 % of the oil "
    "put in), or yours. A date is the one of leak-trend as it was kept (95 %), from five weighings that lie on a line. "
    "Hollow: what lay on the pan was not said."
)


def drawn_rows(masses: Iterable[Row]) -> Iterator[dict[str, Any]]:
    """The masses of builds, each on one mass basis and build after build, with loss, limits, date, and day of opening.

    What is of the whole build stands in its first row only.
    """
    builds = [list(group) for _, group in groupby(masses, lambda row: row["build"])]
    labels = [rows[0]["build_label"] for rows in builds]
    highest_g = max((rows[0]["mass_g"] - row["mass_g"] for rows in builds for row in rows), default=0.0)
    for order, rows in enumerate(builds):
        lost = [round(rows[0]["mass_g"] - row["mass_g"], 4) + 0.0 for row in rows]
        of_build = _of_build(rows[0], _name(rows[0], labels), rows[-1]["runs"], lost[-1]) | {"panel_order": order}
        for place, row in enumerate(rows):
            yield {
                **dict.fromkeys(of_build),
                **{name: row[name] for name in ("build_label", "mass_basis", "day", "runs", "mass_g")},
                **(of_build | _names(of_build, highest_g) if place == 0 else {}),
                "panel": of_build["panel"],
                "panel_order": order,
                "first": place == 0,
                "lost_g": lost[place],
            }


def _name(row: Row, labels: Sequence[str]) -> str:
    """A build as its panel is called: its label, cut to what a phone has room for, and its day where two share it."""
    label: str = row["build_label"]
    short = label if len(label) <= LONGEST_NAME else f"{label[: LONGEST_NAME - 1]}…"
    return f"{short} ({row['day']})" if labels.count(label) > 1 else short


def _of_build(row: Row, name: str, last_runs: float, last_lost_g: float) -> dict[str, Any]:
    kept = json.loads(row["trend"]) if row["trend"] else {"given": {}, "found": {}}
    given, found = kept["given"], kept["found"]
    caution_g, stop_g, whose = _limits(row)
    dated = found.get("runs_to_limit") is not None
    limit_g = given["stop_share"] * given["oil_mass_g"] if dated else None
    opened, date = row["opened_runs"], _date_words(given, found, last_runs)
    if limit_g is not None and stop_g is not None and abs(limit_g - stop_g) > LIMITS_APART_G:
        date += f"\nthat is for {limit_g:.3f} g lost"
    return {
        "caution_g": caution_g,
        "stop_g": stop_g,
        "stop_whose": whose,
        "caution_words": None,
        "stop_words": None,
        "opened_runs": opened,
        "opened_lost_g": None if opened is None else last_lost_g,
        "limit_g": limit_g,
        "limit_runs": found.get("runs_to_limit"),
        "limit_runs_low": found.get("runs_to_limit_low"),
        "limit_runs_high": found.get("runs_to_limit_high"),
        "date_words": date,
        "panel": f"{name}{'' if opened is None else f', opened at run {opened:g}'}\n{date}",
    }


def _names(of_build: Row, highest_g: float) -> dict[str, str | None]:
    """The names of the two limits, in one where they would lie upon each other."""
    caution_g, stop_g = of_build["caution_g"], of_build["stop_g"]
    if stop_g is None:
        return {}
    stop = f"open it ({of_build['stop_whose']})"
    if caution_g is None:
        return {"stop_words": f"{stop}: {stop_g:.3f} g"}
    if stop_g - caution_g < NAMES_APART * max(highest_g, stop_g):
        return {"stop_words": f"look at it; {stop}"}
    return {"caution_words": f"look at it: {caution_g:.3f} g", "stop_words": f"{stop}: {stop_g:.3f} g"}


def _limits(row: Row) -> tuple[float | None, float | None, str | None]:
    """For a second look and for opening, in grams, and whose the second is: the nearer of the team's own goes first."""
    oil = row["oil_mass_g"] if row["oil_mass_g"] and row["oil_mass_g"] > 0 else None
    own = [one for one in (row["own_g"], row["own_share"] * oil if row["own_share"] and oil else None) if one]
    stop = min(own) if own else None if oil is None else STOP_SHARE * oil
    caution = None if oil is None or stop is None else min(CAUTION_SHARE * oil, stop)
    whose = None if stop is None else "yours" if own else "proposal"
    return (
        None if caution is None or caution == stop else round(caution, 4),
        None if stop is None else round(stop, 4),
        whose,
    )


def _date_words(given: Row, found: Row, last_runs: float) -> str:
    if not found:
        return "no date: leak-trend was not worked out"
    since = max(one["runs"] for one in given["weighings"])
    late = f"\nworked out up to run {since:g}, weighed since" if since < last_runs else ""
    if found["runs_to_limit"] is not None:
        at, low, high = (_run(found[f"runs_to_limit{end}"]) for end in ("", "_low", "_high"))
        return f"limit expected at run {at} ({low} to {high}){late}"
    if found["loss_g_per_run"] is None:
        return f"no date: {len(given['weighings'])} weighings give no trend{late}"
    if given["oil_mass_g"] is None:
        return f"no date: the oil put in is not known{late}"
    return f"no date: the trend cannot be told from none{late}"


def _run(runs: float) -> str:
    return f"{runs:.1f}" if abs(runs) < 100 else f"{runs:.0f}"


def on_last_basis(masses: Sequence[Row]) -> Iterator[Row]:
    """Of the masses of each build those on the basis weighed last, where there are two.

    Of several weighed last that with more masses, then one that was named. The masses stand build after build, each
    basis in the order of its runs.
    """
    for _, build in groupby(masses, lambda row: row["build"]):
        bases: dict[str, list[Row]] = {}
        for row in build:
            bases.setdefault(row["mass_basis"], []).append(row)
        series = sorted(
            (rows for rows in bases.values() if len(rows) > 1),
            key=lambda rows: (
                -rows[-1]["runs"],
                -len(rows),
                rows[0]["mass_basis"] == "not said",
                rows[0]["mass_basis"],
            ),
        )
        yield from series[0] if series else ()


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
    """Once for a build, 0 where a column is empty: a layer without any value would leave its scales without ends."""
    known = [{"calculate": f"isValid(datum.{field}) ? datum.{field} : 0", "as": f"{field}_at"} for field in fields]
    return {"transform": [{"filter": "datum.first"}, *known]}


def _seen(told: str) -> dict[str, Any]:
    return {"condition": {"test": f"isValid(datum.{told})", "value": 1}, "value": 0}


_RUNS: Final = "runs since the build"
_LOST: Final = "lost [g]"
_RUNS_AXIS: Final = {"tickMinStep": 1, "format": "d"}


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
                    "fillOpacity": {"condition": {"test": "datum.mass_basis === 'not said'", "value": 0}, "value": 1},
                },
            },
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
