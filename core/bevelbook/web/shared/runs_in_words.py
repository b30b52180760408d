"""What the pages of a run and of a day say of a run, line by line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from markupsafe import Markup

from bevelbook.facts.lap_times import BEST_FIVE, BEST_LAP, worked_out_beside
from bevelbook.facts.places import place_words
from bevelbook.facts.said_nothing import says_nothing
from bevelbook.facts.sql import Row
from bevelbook.reports.race_day import OtherBuild, RunAndChanges
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.blocks import Words, joined
from bevelbook.web.shared.blocks_of_runs import not_full
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.short_text import short

LONGEST_REMARK: Final = 600
_STEPS: Final = {-2: "strong understeer", -1: "understeer", 0: "neutral", 1: "oversteer", 2: "strong oversteer"}


def diff_in_run(links: Linker, row: Row) -> Words:
    """A diff in a run: ``rear: 7,000 cSt in rear-a/2, full``."""
    build = links.record("builds", row["build"], row["build_label"])
    return joined(
        joined(place_of(row), Markup("<strong>{}</strong> in {}").format(oil(row), build), by=": "), full_or_not(row)
    )


def place_of(row: Row) -> str:
    """Where a diff was; empty where that was not noted."""
    return place_words(row["place"], row["place_from"])


def full_or_not(row: Row) -> Words:
    """What is known of the oil in the diff."""
    return with_sign("full") if row["fill_state"] == "full" else not_full(row)


def changed_words(links: Linker, run: RunAndChanges) -> list[Words]:
    """What changed since the run of the car before: what was written, other builds, other parts of the car."""
    written = short(run.record["changed"], LONGEST_REMARK)
    return [
        *([written] if written and not says_nothing(written) else []),
        *(_other_build(links, one) for one in run.other_builds),
        *(one.words for one in run.values),
    ]


def _other_build(links: Linker, one: OtherBuild) -> Words:
    now, before = (
        Markup("{} in {}").format(oil(row), links.record("builds", row["build"], row["build_label"]))
        for row in (one.now, one.before)
    )
    return Markup("{}: {}, was {}").format(one.place, now, before)


def laps_in_words(record: Row) -> str:
    """``15.62 s best five, 15.41 s best lap, 21 laps``; empty where nothing was timed."""
    return ", ".join(
        part
        for part in (
            *(
                _time_in_words(record, name, words)
                for name, words in ((BEST_FIVE, "best five"), (BEST_LAP, "best lap"))
            ),
            f"{record['laps']} laps" if record["laps"] else "",
        )
        if part
    )


def _time_in_words(record: Row, name: str, words: str) -> str:
    if not record[name]:
        return ""
    return f"{figure(name, record[name], unit=True)} {words}{worked_out_beside(record, name)}"


def conditions_of_run(record: Row, diffs: Iterable[Row] = ()) -> str:
    """Surface, grip, and the temperatures of track, air and diffs."""
    grip = f"{record['grip']} grip" if record["grip"] else ""
    if grip and record["grip_trend"] in ("rising", "falling"):
        grip += f" and {record['grip_trend']}"
    temperatures = [
        (words, value)
        for words, value in (
            ("track", record["track_temp_c"]),
            ("air", record["air_temp_c"]),
            *((f"{row['place'] or ''} diff".strip(), row["diff_temp_c"]) for row in diffs),
        )
        if value is not None
    ]
    parts = (
        record["surface_state"],
        grip,
        *(f"{words} {figure('air_temp_c', value, unit=True)}" for words, value in temperatures),
    )
    return ", ".join(part for part in parts if part)


def balance_in_words(record: Row) -> str:
    """How the car was balanced through a corner, and its drive and bite."""
    parts = [
        f"{words} {_STEPS.get(record[name], record[name])}"
        for words, name in (("entry", "balance_entry"), ("middle", "balance_middle"), ("exit", "balance_exit"))
        if record[name] is not None
    ]
    parts += [
        f"{words} {record[name]}"
        for words, name in (("forward drive", "forward_drive"), ("side bite", "side_bite"))
        if record[name]
    ]
    return ", ".join(parts)
