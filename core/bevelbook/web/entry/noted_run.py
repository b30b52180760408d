"""A stored run in a line, as a person knows it from another one: who noted it and when, and its figures."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import Final

from bevelbook.display.clock import clock_in_words
from bevelbook.entering.typed_fields import typed_fields
from bevelbook.records import BY_NAME
from bevelbook.reports.carried_to_run import WEATHER
from bevelbook.web.entry.record_form import stored_texts
from bevelbook.web.shared.short_text import short

_RUN: Final = BY_NAME["run"]
_FIELDS: Final = {field.name: field for field in typed_fields(_RUN)}
_OWN: Final = (
    *(name for name in _FIELDS if name.endswith("_temp_c") and name not in WEATHER),
    *("best_lap_s", "best_five_s", "call", "note"),
)
FIGURES: Final = (*_OWN, *WEATHER)
"""Fields by which a person knows a run from another one of its day, what was measured in the run itself first."""
_SAID: Final = 4
"""Values of a run that say which one it is."""
_LONGEST: Final = 60
_NOTED: Final = """
SELECT r.label, r.run_on, r.started_at, r.created_at, c.name AS car, coalesce(p.name, r.updated_by) AS who
FROM runs r LEFT JOIN cars c ON c.id = r.car LEFT JOIN people p ON p.id = r.noted_by WHERE r.id = ?
"""


def figures_in_words(texts: Mapping[str, str]) -> str:
    """The figures of a run, from the texts of its fields: ``rear temp 39.5 °C, call keep``. Air and track, which it may
    have from another run, are said where there is nothing else; empty without any."""
    own = [name for name in _OWN if texts.get(name)]
    shown = [(name, texts[name]) for name in own or WEATHER if texts.get(name)][:_SAID]
    return ", ".join(
        f"{_FIELDS[name].words} {short(text, _LONGEST)}{_unit(name) if _is_bare(text) else ''}" for name, text in shown
    )


def noted_run(connection: sqlite3.Connection, run: str) -> str:
    """A run by its id: ``run 2026-05-03/2 of blue was noted by ben at 14:05: rear temp 39.5 °C``."""
    row = connection.execute(_NOTED, (run,)).fetchone()
    of_car, by = f" of {row['car']}" if row["car"] else "", f" by {row['who']}" if row["who"] else ""
    at = row["started_at"] or _clock(row["created_at"], row["run_on"])
    figures = figures_in_words(stored_texts(connection, _RUN, run)) or "no figures"
    return f"run {row['label']}{of_car} was noted{by} at {at}: {figures}"


def _clock(instant: str, day: str) -> str:
    """When a run was written down, with its day where that is not the day of the run."""
    try:
        return clock_in_words(instant, date.fromisoformat(day))
    except ValueError:
        return clock_in_words(instant)


def _unit(name: str) -> str:
    return f" {unit}" if (unit := _FIELDS[name].unit) else ""


def _is_bare(text: str) -> bool:
    """Whether a text is a number without its unit."""
    return text.replace(".", "", 1).replace(",", "", 1).replace("-", "", 1).isdecimal()
