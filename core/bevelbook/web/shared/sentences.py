"""A build or a run in one sentence."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from markupsafe import Markup

from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.remark_words import one_remark


def temperatures(rows: Iterable[Row]) -> str:
    """The temperature of each diff of a run by its place, the rear first: ``rear 39 °C, front 36 °C``; of one without a
    place ``diff 39 °C``."""
    read = [(row["place"], row["diff_temp_c"]) for row in rows if row["diff_temp_c"] is not None]
    in_order = sorted(read, key=lambda one: -POSITIONS.index(one[0]) if one[0] in POSITIONS else 1)
    return ", ".join(f"{place or 'diff'} {figure('diff_temp_c', value, unit=True)}" for place, value in in_order)


def conditions(rows: Sequence[Row]) -> str:
    """Grip and temperatures of a run, one row for each diff in it."""
    row = rows[0]
    grip = f"{row['grip']} grip" if row["grip"] else ""
    if grip and row.get("grip_trend") in ("rising", "falling"):
        grip += f", {row['grip_trend']}"
    track = f"track {figure('track_temp_c', row['track_temp_c'], unit=True)}" if row["track_temp_c"] is not None else ""
    return ", ".join(part for part in (grip, track, temperatures(rows)) if part)


def build_sentence(links: Linker, row: Row) -> Markup:
    """A build in one sentence."""
    by = f" by {row['builder']}" if row["builder"] else ""
    mass = f", {figure('oil_in_g', row['oil_in_g'], unit=True)} of oil" if row["oil_in_g"] is not None else ""
    return Markup("{}: {}, {}{}, {}{}").format(
        row["built_on"], links.record("builds", row["id"], row["label"]), row["kind"] or "build", by, oil(row), mass
    )


def run_sentence(links: Linker, rows: Sequence[Row]) -> Markup:
    """A run in one sentence, with every diff that was in the car; its day leads to the page of the day."""
    first = rows[0]
    where = links.record("venues", first["venue"], first["venue_name"]) if first["venue"] else "venue not recorded"
    diffs = Markup(", ").join(
        Markup("{} {}").format(row["position"] or "with", links.record("builds", row["build"], row["build_label"]))
        for row in rows
        if row["build"]
    )
    day = links.to(f"day/{first['run_on']}", first["run_on"])
    number = first["run_label"].removeprefix(f"{first['run_on']}/")
    sentence = Markup("{} {}: {}").format(day, links.record("runs", first["run"], f"run {number}"), where)
    for part in (conditions(rows), diffs, count_of(first["runs"]) if first["runs"] not in (None, 1) else ""):
        if part:
            sentence += Markup("; {}").format(part)
    if first["call"]:
        sentence += Markup("; <strong>{}</strong>").format(first["call"])
    note = one_remark(first, 90)
    return sentence + (Markup(' <span class="quiet">{}</span>').format(note) if note else "")


def by_run(rows: Iterable[Row]) -> list[list[Row]]:
    """Rows of one run together, in the order in which the runs come."""
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(row["run"], []).append(row)
    return list(found.values())
