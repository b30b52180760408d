"""Builds as blocks of a list, and what was found in them: openings, seals, parts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from markupsafe import Markup

from bevelbook.display.begun import begun
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row
from bevelbook.physics.suspension import dark_oil_words
from bevelbook.reports.leak_found import leak_found
from bevelbook.reports.oil_lost_line import loss_in_line, loss_said
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.blocks import ListedBlock, Words, block, joined
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.short_text import short

_STATES: Final = ("side_gears", "small_gears", "shafts", "cross_pin", "bores", "seals", "screws")
"""What an opening says of the parts."""


def build_blocks(links: Linker, rows: Iterable[Row], *, fluid: bool = True) -> list[ListedBlock]:
    """Builds, one block each: oil and verdict on the oil lost, masses, how it turned and went, why it was opened.

    A page of one fluid need not name it.
    """
    return [_build_block(links, row, fluid=fluid) for row in rows]


def _build_block(links: Linker, row: Row, *, fluid: bool) -> ListedBlock:
    build = links.record("builds", row["id"], row["label"])
    return block(
        joined(build, oil(row) if fluid else ""),
        oil_lost_word(row),
        masses_words(row),
        joined(loss_in_line(row), count_of(row["runs"]) if row["runs"] else "not run"),
        joined(f"turned {row['hand_feel']}" if row["hand_feel"] else "", opened_words(row)),
        _quoted(row["note"]),
        quiet=joined(row["built_on"], row["kind"], f"by {row['builder']}" if row["builder"] else ""),
    )


def oil_lost_word(row: Row) -> Words:
    """The verdict on the oil lost; a leak that was found when it was opened is not ok, whatever the scale saw."""
    is_found = leak_found(row["leak_place"], None, row["opened_for"]) and row["leak"] not in ("caution", "stop")
    return "leak found" if is_found else with_sign(row["leak"] or "")


def filling_block(links: Linker, row: Row, *, built: Words, went: str = "", dry: str = "") -> ListedBlock:
    """What is in a build, as the pages of the build and of its diff begin: oil and its mass, what it lost in how many
    runs, ``went`` for how it went, the dry mass, when it was built and where its viscosity is from."""
    oil_in = figure("oil_in_g", row["oil_in_g"], unit=True)
    said = row["viscosity_from"] if row["viscosity_cst"] is not None else ""
    return block(
        oil(row),
        f"{oil_in} of oil" if oil_in else "",
        joined(loss_said(row, when=True), count_of(row["runs"] or 0.0), by="; "),
        went,
        opened_words(row),
        dry,
        built,
        quiet=f"oil from: {short(said, 60)}" if said else "",
    )


def masses_words(row: Row) -> Words:
    """``1.86 g of oil, 12.42 g dry``, as far as known."""
    oil_in = figure("oil_in_g", row["oil_in_g"], unit=True)
    return joined(f"{oil_in} of oil" if oil_in else "", dry_words(row))


def dry_words(row: Row) -> str:
    """``12.42 g dry``; empty where it was not weighed."""
    return f"{figure('dry_mass_g', row['dry_mass_g'], unit=True)} dry" if row["dry_mass_g"] is not None else ""


def opened_words(row: Row) -> str:
    """When a build was opened, why, and where it was wet; empty while it is closed."""
    if not row["opened_on"]:
        return ""
    why = joined(row["opened_for"], f"wet at {row['leak_place']}" if row["leak_place"] else "")
    return f"opened {row['opened_on']}{f' ({why})' if why else ''}"


def opening_blocks(links: Linker, rows: Iterable[Row]) -> list[ListedBlock]:
    """What was found at each opening."""
    return [
        block(
            joined(
                links.record("openings", row["id"], row["opened_on"]),
                links.record("builds", row["build"], row["build_label"]),
            ),
            row["reason"] or "",
            joined(f"wet at {row['leak_place']}" if row["leak_place"] else "", row["leak_amount"]),
            joined(
                f"oil {row['oil']}" if row["oil"] else "",
                *(f"{name.replace('_', ' ')} {row[name]}" for name in _STATES if row[name]),
            ),
            _quoted(row["note"]),
        )
        for row in rows
    ]


def dark_oil_note(rows: Iterable[Row]) -> str:
    """What dark oil says and does not say, where one of the openings found it."""
    words = next((words for row in rows if (words := dark_oil_words(row["oil"]))), "")
    return f"{begun(words)}." if words else ""


def seal_blocks(links: Linker, rows: Iterable[Row]) -> list[ListedBlock]:
    """The seals in a build, by place."""
    return [
        block(
            Markup("{}: {}").format(
                links.record("seal_fittings", row["id"], row["place"]),
                links.record("seals", row["seal"], row["seal_label"]),
            ),
            row["condition"] or "",
            row["state"] or "",
            _quoted(row["note"]),
        )
        for row in rows
    ]


def _quoted(note: str | None) -> Words:
    return Markup("“{}”").format(short(note)) if note else ""
