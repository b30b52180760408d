"""A record as a person wants it, read with its defaults, and saved with all that follows from it.

Both steps run inside the caller's transaction: several records saved in one are one entry.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final, Literal, NamedTuple

from bevelbook.calculating.recalculate import Upkeep, depending_on, recalculate_depending, recalculate_for
from bevelbook.declare.errors import InputError, Place, with_article
from bevelbook.display.begun import begun
from bevelbook.entering import car_set, run_places
from bevelbook.entering.defaults import filled_in, refuse_empty_record, with_reasons
from bevelbook.entering.diff_readings import read_after_run
from bevelbook.entering.question import NO_ANSWERS, Answers
from bevelbook.entering.record import PreparedRecord, prepare, write
from bevelbook.entering.scale_figures import scales_before, set_again
from bevelbook.entering.shown_values import shown_values
from bevelbook.facts.car_values import ValueChange, changes_since_last_run
from bevelbook.facts.fill_off_target import MADE_OF, off_target_of
from bevelbook.facts.lid_mass import LID_MADE_OF, unlike_last_lid_of
from bevelbook.facts.renew import renew_touched
from bevelbook.notes.late_builds import place_rows_of_touched_builds
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.physics.suspension import dark_oil_words
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports.clashes_there import clashes_about
from bevelbook.reports.stock import left_after
from bevelbook.reports.what_changed import News, news_of, touched_on_shelf
from bevelbook.saving.erased_words import erased_words
from bevelbook.store.ids import now_utc
from bevelbook.store.record_names import marked_diffs

Done = Literal["added", "changed", "nothing"]
DONE_WORDS: Final[Mapping[Done, str]] = {"added": "Added", "changed": "Changed", "nothing": "Nothing to change in"}


class WantedRecord(NamedTuple):
    """A record as a person types it: texts by field name, and the name of the one to change, None for a new one."""

    kind: Kind
    texts: Mapping[str, str]
    name: str | None = None
    answers: Answers = NO_ANSWERS


class SavedRecord(NamedTuple):
    """A record that was saved, and what came of it.

    ``was`` are the values before of what changed, ``carried`` and ``taken`` say where values came from that were not
    typed, ``marked`` are values with the mark of a diff, ``places`` what was where in a run, ``sat`` what is there now,
    as lines and for programs, ``read_after`` sentences on what was read of it.
    """

    kind: Kind
    row_id: str
    label: str
    done: Done
    values: Mapping[str, Any]
    was: Mapping[str, Any]
    carried: Mapping[str, str]
    taken: Mapping[str, str]
    marked: Mapping[str, str]
    odd: tuple[str, ...]
    remarks: tuple[str, ...]
    read_after: tuple[str, ...]
    lines_of_run: tuple[str, ...]
    places: list[dict[str, Any]]
    beside: tuple[str, ...]
    car_changes: list[ValueChange]
    builds_made: tuple[str, ...]
    placed: PlacedAgain
    news: News
    upkeep: Upkeep
    clashes: tuple[str, ...] = ()
    """That it was changed in two places, with what each version says; what belongs to it too."""

    @property
    def findings(self) -> list[str]:
        """All sentences to show with it."""
        return [*self.odd, *self.remarks, *self.read_after, *self.clashes]

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "record": self.kind.name,
            "id": self.row_id,
            "label": self.label,
            "done": self.done,
            "values": dict(self.values),
            "was": dict(self.was),
            "carried_over": dict(self.carried),
            "taken": dict(self.taken),
            "places": self.places,
            "beside": list(self.beside),
            "car_changes": [one._asdict() for one in self.car_changes],
            "builds_made": list(self.builds_made),
            **self.placed.as_dict(),
            "findings": self.findings,
            "kept": [one.as_dict() for one in self.upkeep.worked_out],
            "plugin_faults": self.upkeep.faults(),
            **self.news.as_dict(),
        }


def read_wanted(
    connection: sqlite3.Connection,
    wanted: WantedRecord,
    by: str | None,
    *,
    is_of_today: bool = False,
    noted_at: str | None = None,
) -> PreparedRecord:
    """The record with its defaults filled in, every value read. Writes nothing.

    ``is_of_today`` where a new record without a day is of today, not of the day of the last entry. ``noted_at`` is when
    it was noted, as the database keeps times, where that is not now.

    Raises InputError or UnknownNameError with the field's name as place, and Question where only a person knows: read
    it again with the answer.
    """
    texts: Mapping[str, str] = wanted.texts
    why: Mapping[str, str] = {}
    if wanted.name is None:
        refuse_empty_record(wanted.kind, texts)
        texts, why = filled_in(connection, wanted.kind, texts, by, noted_at or now_utc(), is_of_today=is_of_today)
    entry = prepare(connection, wanted.kind, wanted.name, texts, wanted.answers, noted_at=noted_at)
    return with_reasons(entry, why)


def save(
    connection: sqlite3.Connection,
    registry: Registry,
    entry: PreparedRecord,
    by: str | None,
    *,
    noted_at: str | None = None,
) -> SavedRecord:
    """Write a record that was read, place note rows again, and work out facts, kept results and news.

    A record that was noted before now has that moment as the one at which it was written down.

    Raises InputError where it does not fit what is there.
    """
    kind = entry.kind
    if kind.from_file is not None and entry.row_id is None and entry.values.get(kind.from_file) is None:
        raise InputError(
            f"{with_article(kind.name.replace('_', ' '))} needs a picture",
            code="no_picture_sent",
            place=Place(field=kind.from_file),
            remedy="Choose one. Nothing was stored.",
        )
    is_run = kind.name == "run"
    was = shown_values(connection, kind, entry.row_id) if entry.row_id else {}
    sat_before = run_places.in_run(connection, entry.row_id) if is_run and entry.row_id else []
    of_scales = scales_before(connection, kind, entry.row_id, entry.values)
    written = write(connection, entry, by, now_utc, noted_at=noted_at)
    set_scales = set_again(connection, of_scales, by, now_utc)
    placed = place_rows_of_touched_builds(connection, by, aside=written.aside)
    before = touched_on_shelf(connection)
    renew_touched(connection)
    upkeep = recalculate_for(connection, registry, kind.name, written.row_id, by, now_utc())
    if kind.name != "scale" and set_scales:
        touched = [(BY_NAME["scale"], one.row_id) for one in set_scales]
        upkeep = recalculate_depending(connection, registry, depending_on(connection, registry, touched), by)
    values = shown_values(connection, kind, written.row_id)
    sat = run_places.in_run(connection, written.row_id) if is_run else []
    beside = car_set.beside_in_run(connection, written.row_id) if is_run and entry.row_id else entry.beside
    dark = dark_oil_words(values.get("oil")) if kind.name == "opening" else None
    is_filled = kind.name == "build" and not MADE_OF.isdisjoint(entry.values)
    off_target = off_target_of(connection, written.row_id) if is_filled else None
    is_closed = kind.name == "build" and not LID_MADE_OF.isdisjoint(entry.values)
    lid = unlike_last_lid_of(connection, written.row_id) if is_closed else None
    return SavedRecord(
        kind,
        written.row_id,
        written.label,
        ("changed" if entry.row_id else "added") if written.changed else "nothing",
        values,
        {key: was.get(key) for key in (*values, *was) if entry.row_id and was.get(key) != values.get(key)},
        entry.carried,
        entry.taken,
        marked_diffs(connection, kind, written.row_id),
        tuple(one.words for one in entry.odd),
        (*entry.remarks, *erased_words(connection, kind, entry.values, by)),
        (
            *read_after_run(connection, kind, written.row_id),
            *((begun(dark),) if dark else ()),
            *((f"{off_target.words}.",) if off_target else ()),
            *((f"{begun(lid.words)}.",) if lid else ()),
            *(one.words for one in set_scales),
            *left_after(connection, kind, (written.row_id, *written.more)),
        ),
        tuple(run_places.lines(sat, entry.places, beside, sat_before)),
        run_places.for_programs(sat, entry.places),
        beside,
        changes_since_last_run(connection, written.row_id) if is_run else [],
        tuple(one.label for one in entry.made),
        placed,
        news_of(connection, kind, written.row_id, before, entry.values),
        upkeep,
        tuple(f"Clash: {one.name}, {one.sentence}" for one in clashes_about(connection, kind, written.row_id)),
    )
