"""The pages of a diff, a build, a fluid and a venue, and the card of a build."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.facts.builds import build_before
from bevelbook.facts.diffs import OF_OIL_LOST
from bevelbook.facts.ideas import open_ideas
from bevelbook.facts.parts import parts_of_build
from bevelbook.facts.sql import Row
from bevelbook.kept_json import texts_in
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.compare import differences
from bevelbook.reports.leak_words import leak_said
from bevelbook.reports.mass_chart import masses_of_diff
from bevelbook.reports.shelf import all_words, reason_words, shelf_row
from bevelbook.store.explaining import unread_record
from bevelbook.store.lookup import check_has_diff
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.beside import beside
from bevelbook.web.shared.drawing import drawn_masses
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.offered import offered_for
from bevelbook.web.shared.page_table import PageTable, table
from bevelbook.web.shared.record_facts import facts_of
from bevelbook.web.shared.request import asked
from bevelbook.web.shared.sentences import build_words
from bevelbook.web.shared.tables_of_builds import builds_table, openings_table, seals_table
from bevelbook.web.shared.tables_of_runs import runs_table
from bevelbook.web.shared.words import figure, short

BUILDS: Final = 40
RUNS: Final = 40
CHARTED_BUILDS: Final = 4
BANDS: Final = ("up to 15 °C", "15 to 25 °C", "25 to 35 °C", "above 35 °C")
_BAND_EDGES: Final = ((None, 15.0), (15.0, 25.0), (25.0, 35.0), (35.0, None))


async def diff(request: Any, datasette: Any) -> Any:
    """One diff: where it stands, its builds, openings, masses, seals and runs."""
    page = await asked(datasette, request)
    row_id = await page.row_id("diff")
    links = page.links

    def gather(connection: sqlite3.Connection) -> dict[str, Any]:
        runs = questions.runs_of(connection, "diff", row_id, RUNS)
        builds = questions.builds_of(connection, "diff", row_id, BUILDS)
        return {
            "diff": questions.record(connection, BY_NAME["diff"], row_id),
            "offered": offered_for(connection, links, page.registry, BY_NAME["diff"], row_id),
            "shelf": shelf_row(connection, row_id),
            "facts": facts_of(connection, links, BY_NAME["diff"], row_id),
            "builds": builds,
            "openings": questions.openings_of(connection, "diff", row_id),
            "masses": masses_of_diff(connection, row_id, CHARTED_BUILDS),
            "parts": parts_of_build(connection, builds[0]["id"]) if builds else [],
            "fittings": questions.fittings_of(connection, builds[0]["id"]) if builds else [],
            "runs": runs,
        }

    found = await page.ask(gather)
    label = found["diff"]["label"]
    newest = found["builds"][0] if found["builds"] else None
    return await page.page(
        "diff",
        label,
        word=with_sign(found["shelf"]["word"]) if found["shelf"] else "",
        why=list(all_words(found["shelf"])) if found["shelf"] else [],
        offered=found["offered"],
        newest=newest,
        newest_words=build_words(links, newest) if newest else None,
        facts=found["facts"],
        note=found["diff"]["note"],
        chart_of_masses=drawn_masses(label, page.registry, found["masses"]),
        tables=[
            builds_table(links, "Builds", found["builds"]),
            openings_table(links, found["openings"]),
            seals_table(links, found["fittings"]),
            table("Runs of its parts", "Part|Place|Mark|Since new|#Builds|#Runs", _part_cells(found["parts"])),
            runs_table(links, "Runs", found["runs"], venue=True),
        ],
    )


async def build(request: Any, datasette: Any) -> Any:
    """One build: what went in, what calculators say, what was run, found, and changed since the build before."""
    page = await asked(datasette, request)
    row_id = await page.row_id("build")
    links, registry = page.links, page.registry

    def gather(connection: sqlite3.Connection) -> dict[str, Any]:
        runs = questions.runs_of(connection, "build", row_id, RUNS)
        check_has_diff(connection, row_id)
        before = build_before(connection, row_id)
        row = questions.build(connection, row_id)
        if row is None:
            raise unread_record("build")
        return {
            "build": row,
            "shelf": shelf_row(connection, row["diff"]),
            "leak": leak_said(connection, row_id),
            "offered": offered_for(connection, links, registry, BY_NAME["build"], row_id),
            "facts": facts_of(connection, links, BY_NAME["build"], row_id),
            "calculations": questions.calculations_of(connection, row_id),
            "fittings": questions.fittings_of(connection, row_id),
            "openings": questions.openings_of(connection, "build", row_id),
            "runs": runs,
            "before": before,
            "differences": differences(connection, before[0], row_id, registry) if before else (),
        }

    found = await page.ask(gather)
    row = found["build"]
    before = found["before"]
    return await page.page(
        "build",
        row["label"],
        build=row,
        diff=links.record("diffs", row["diff"], row["diff_label"]),
        words=build_words(links, row),
        leak=found["leak"],
        verdict=with_sign(found["leak"].verdict) if found["leak"] else "",
        **_shelf_of_last(found["shelf"], row_id),
        note=row["note"],
        facts=found["facts"],
        card=links.page(f"card/{row_id}"),
        told=[_calculation(links, registry, one) for one in found["calculations"]],
        offered=found["offered"],
        before=links.record("builds", *before) if before else None,
        changes=beside(before[1], row["label"], found["differences"]) if before else None,
        compare=links.page("compare", a=f"{before[0]}", b=row_id) if before else links.page("compare", a=row_id),
        tables=[
            seals_table(links, found["fittings"]),
            openings_table(links, found["openings"]),
            runs_table(links, "Runs", found["runs"], venue=True),
        ],
    )


async def card(request: Any, datasette: Any) -> Any:
    """The card of a build, to print on one sheet."""
    page = await asked(datasette, request)
    row_id = await page.row_id("build")
    registry = page.registry

    def gather(connection: sqlite3.Connection) -> tuple[str, str]:
        from bevelbook.card.build_card import card_of
        from bevelbook.card.html import card_page

        made = card_of(connection, registry, row_id)
        return made.build, card_page(made)

    label, fragment = await page.ask(gather)
    from bevelbook.card.html import card_styles

    return await page.page(
        "card",
        f"{label}: card",
        build=page.links.record("builds", row_id, label),
        styles=Markup(card_styles()),
        fragment=Markup(fragment),
    )


async def fluid(request: Any, datasette: Any) -> Any:
    """One fluid: its cSt with the source, its bottles with own measurements, the builds with it."""
    page = await asked(datasette, request)
    row_id = await page.row_id("fluid")
    links, registry = page.links, page.registry

    def gather(connection: sqlite3.Connection) -> dict[str, Any]:
        return {
            "fluid": questions.record(connection, BY_NAME["fluid"], row_id),
            "offered": offered_for(connection, links, registry, BY_NAME["fluid"], row_id),
            "facts": facts_of(connection, links, BY_NAME["fluid"], row_id),
            "bottles": questions.bottles_of(connection, row_id),
            "builds": questions.builds_of(connection, "fluid", row_id, BUILDS),
        }

    found = await page.ask(gather)
    row = found["fluid"]
    return await page.page(
        "thing",
        row["label"],
        lead=_viscosity_words(row),
        facts=found["facts"],
        note=row["note"],
        offered=found["offered"],
        tables=[
            _bottles_table(links, found["bottles"]),
            builds_table(links, "Builds with it", found["builds"], fluid=False, diff=True),
        ],
    )


async def venue(request: Any, datasette: Any) -> Any:
    """One venue: what was run there in which conditions, open ideas, the latest runs."""
    page = await asked(datasette, request)
    row_id = await page.row_id("venue")
    links = page.links

    def gather(connection: sqlite3.Connection) -> dict[str, Any]:
        runs = questions.runs_of(connection, "venue", row_id, RUNS)
        return {
            "venue": questions.record(connection, BY_NAME["venue"], row_id),
            "offered": offered_for(connection, links, page.registry, BY_NAME["venue"], row_id),
            "facts": facts_of(connection, links, BY_NAME["venue"], row_id),
            "conditions": questions.conditions_at(connection, row_id),
            "count": questions.runs_at(connection, row_id),
            "ideas": open_ideas(connection, row_id),
            "runs": runs,
        }

    found = await page.ask(gather)
    row = found["venue"]
    return await page.page(
        "venue",
        row["name"],
        facts=found["facts"],
        note=row["note"],
        offered=found["offered"],
        newest=f"{questions.CONDITIONS_OF:,}" if found["count"] > questions.CONDITIONS_OF else "",
        conditions=[_condition(links, row_id, one) for one in found["conditions"]],
        ideas=[links.record("ideas", one.id, short(one.text, 200)) for one in found["ideas"]],
        onward=links.page("worked", venue=row["name"]),
        tables=[runs_table(links, "Latest runs", found["runs"], venue=False)],
    )


def _shelf_of_last(shelf: Row | None, build: str) -> dict[str, Any]:
    """The shelf word for the page of a diff's last build, and what is behind it besides the oil lost."""
    if shelf is None or shelf["build"] != build:
        return {"word": "", "why": []}
    return {"word": with_sign(shelf["word"]), "why": list(reason_words(dict(shelf), besides=OF_OIL_LOST))}


def _viscosity_words(row: Row) -> str:
    if row["viscosity_cst"] is None:
        return "No viscosity is known: the label alone says nothing in cSt."
    source = row["viscosity_source"] or "source not said"
    return f"{figure('viscosity_cst', row['viscosity_cst'], unit=True)} at 25 °C ({short(source, 120)})"


def _part_cells(parts: list[Any]) -> Iterator[tuple[Any, ...]]:
    for one in parts:
        place = "" if one.place == "not said" else one.place
        yield one.part, place, one.mark, "yes" if one.from_new else "not known", str(one.uses), f"{one.runs:g}"


def _bottles_table(links: Linker, rows: list[Row]) -> PageTable:
    return table(
        "Bottles",
        "Bottle|Opened|#Own measurement [cSt]|#± (k = 1)|Measured|How|#Density [g/cm³]|#Builds|Used up|Note",
        (
            (
                links.record("bottles", row["id"], row["lot"] or "no lot"),
                row["opened_on"],
                figure("viscosity_cst", row["viscosity_cst"]),
                figure("viscosity_uncertainty_cst", row["viscosity_uncertainty_cst"]),
                row["measured_on"],
                short(row["method"]),
                figure("density_g_cm3", row["density_g_cm3"]),
                str(row["builds"]),
                row["empty"],
                short(row["note"]),
            )
            for row in rows
        ),
    )


class ShownCalculation(NamedTuple):
    """A kept calculation on a page. Where the facts answer its question, its verdict and reasons are left to them."""

    title: Markup | str
    verdict: Markup
    reasons: list[str]
    day: str
    answered: bool


def _calculation(links: Linker, registry: Registry, row: Row) -> ShownCalculation:
    offered = registry.calculators.get(row["calculator"])
    title = offered.calculator.title if offered else row["calculator"]
    reasons = list(texts_in(row["reasons"]) or ())
    record = links.record("calculations", row["id"], title)
    day = row["calculated_at"][:10]
    if row["answered"]:
        return ShownCalculation(record, Markup(""), [], day, True)
    return ShownCalculation(record, with_sign(row["verdict"]), reasons, day, False)


class Condition(NamedTuple):
    """What was run in one grip and band of temperature."""

    words: Markup
    runs: str
    calls: str
    oils: str


def _condition(links: Linker, venue_id: str, row: Row) -> Condition:
    grip = f"{row['grip']} grip" if row["grip"] else "grip not said"
    band = f"track {BANDS[row['band']]}" if row["band"] is not None else "track not measured"
    low, high = _BAND_EDGES[row["band"]] if row["band"] is not None else (None, None)
    decided = [f"{row[name]} {words}" for name, words in (("kept", "kept"), ("changed", "changed")) if row[name]]
    thin, thick = (figure("viscosity_cst", row[name]) for name in ("thinnest_cst", "thickest_cst"))
    return Condition(
        links.to(
            "worked",
            f"{grip}, {band}",
            venue=venue_id,
            grip=row["grip"],
            track_from=low and f"{low:g}",
            track_to=high and f"{high:g}",
        ),
        f"{row['runs']} run{'' if row['runs'] == 1 else 's'}",
        ", ".join(decided) or "nothing decided",
        f"{thin} cSt" if thin == thick and thin else f"{thin} to {thick} cSt" if thin else "",
    )
