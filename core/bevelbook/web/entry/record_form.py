"""The form of one record, made from its declared fields: those usually typed first, the rest folded."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from hashlib import sha256
from types import MappingProxyType
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.display.days import day_against, day_in_words
from bevelbook.entering import run_places
from bevelbook.entering.defaults import fills_day
from bevelbook.entering.run_places import values_in_places
from bevelbook.entering.shown_values import shown_values
from bevelbook.entering.typed_fields import typed_fields
from bevelbook.reading import BY_HAND, read
from bevelbook.reading.dates import today_iso
from bevelbook.records import Kind
from bevelbook.web.entry.entry_fields import MOST_BUTTONS, MOST_DIFFS, EntryField, entry_field
from bevelbook.web.entry.likely_records import likely_records, target_of
from bevelbook.web.entry.offered_values import offered_texts, text_of
from bevelbook.web.shared.form_inputs import MOST_NAMED

SEEN_FIRST: Final[Mapping[str, tuple[str, ...]]] = {
    "person": ("name",),
    "car": ("name", "drive"),
    "venue": ("name", "surface", "indoor"),
    "event": (
        *("name", "venue", "first_on", "last_on", "air_low_c", "air_high_c", "track_low_c", "track_high_c"),
        *("grip", "runs_per_car"),
    ),
    "event_car": ("event", "car", "runs"),
    "scale": ("name", "step_g"),
    "scale_reading": ("scale", "thing", "place", "mass_g"),
    "seal": ("label", "form", "inside_diameter_mm", "section_mm", "material"),
    "diff": ("label", "usual_position", "mark"),
    "fluid": ("label", "viscosity_cst", "viscosity_source"),
    "bottle": ("fluid", "lot", "opened_on"),
    "fluid_comparison": ("thicker", "thinner", "ratio", "temperature_c", "note"),
    "idea": ("text", "venue"),
    "build": ("diff", "kind", "like", "fluid", "dry_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g"),
    "blend_part": ("build", "fluid", "viscosity_cst", "mass_g"),
    "seal_fitting": ("build", "place", "seal", "condition", "state"),
    "build_part": ("build", "part", "place", "condition", "mark"),
    "build_shim": ("build", "place", "thickness_mm", "pieces"),
    "weighing": ("build", "mass_g", "mass_basis"),
    "opening": ("build", "reason", "closed_mass_g", "leak_place", "leak_amount", "oil", "note"),
    "run": ("run_on", "venue", "car", "rear", "rear_temp_c", "front", "front_temp_c", "grip", "call", "note"),
    "run_diff": ("run", "build", "position", "diff_temp_c", "after_run_s"),
    "car_diff": ("car", "position", "diff", "instead"),
    "car_value": ("car", "what", "value"),
    "photo": ("piece", "side", "note"),
    "put_by": ("reason",),
    "limit": ("kind", "value", "diff", "note"),
    "job_time": ("job", "minutes", "diff"),
    "stock_part": ("label", "part", "seal", "side", "least"),
    "stock_change": ("stock_part", "what", "pieces"),
    "kit_part": ("kit", "stock_part", "pieces"),
    "bottle_check": ("bottle", "mass_g", "level"),
}
"""The fields of each kind of record that are seen first; the others are behind one line."""

_LABELS: Final[Mapping[tuple[str, str], str]] = {
    ("weighing", "build"): "Diff",
    ("opening", "build"): "Diff",
    ("idea", "text"): "What to try",
    ("event", "venue"): "Where",
    ("event", "first_on"): "First day",
    ("event", "last_on"): "Last day, if there are more",
    ("event", "air_low_c"): "Air expected, lowest",
    ("event", "air_high_c"): "Air expected, highest",
    ("event", "track_low_c"): "Track expected, lowest",
    ("event", "track_high_c"): "Track expected, highest",
    ("event", "grip"): "Grip expected",
    ("event_car", "car"): "A car that goes there",
    ("photo", "piece"): "What is seen",
}
"""What a form calls a field where its name would not say it: the build of a day is named by its diff."""
_SAID: Final[Mapping[str, str]] = {
    "from_on": "Day",
    "from_at": "Time of day",
    "weighed_on": "Day",
    "opened_on": "Day",
    "built_on": "Day",
    "noted_on": "Day",
    "compared_on": "Day",
    "read_on": "Day",
    "taken_on": "Day",
    "changed_on": "Day",
    "checked_on": "Day",
    "mass_basis": "What was on the scale",
    "sister_mass_g": "Mass of an equal empty housing",
}
"""The same for fields that are called so in every kind of record."""
_OF_NOTES: Final = frozenset({"basis_from", "temp_place"})
"""Fields that only rows of notes have."""


class Fold(NamedTuple):
    """Inputs behind one line; open where one of them needs a look."""

    line: str
    fields: tuple[EntryField, ...]
    is_open: bool


class FormDay(NamedTuple):
    """The input for the day of a record, and the day in words: ``today``, ``20 Nov 2026, not today``, of one stored
    ``20 Nov 2026``. ``is_other`` where a new record is of another day than today."""

    field: EntryField
    words: str
    is_other: bool


class RecordForm(NamedTuple):
    """The form of a record: the inputs seen first and those behind a line.

    ``version`` changes with the fields of its kind: a form of another version is one from before an update. ``stored``
    is the id of the record that it changes, empty for a new one. ``day_field`` is the input for the day it is of, which
    is said above all others.
    """

    kind: Kind
    first: tuple[EntryField, ...]
    fold: Fold | None
    version: str
    stored: str = ""
    day_field: EntryField | None = None

    @property
    def day(self) -> FormDay | None:
        """The day that is said at the top; None where the form has none, or it is among the inputs seen first."""
        one = self.day_field
        return one and form_day(self.kind, one, is_stored=bool(self.stored))

    @property
    def fields(self) -> tuple[EntryField, ...]:
        """All inputs, in the order in which they are seen."""
        day = (self.day_field,) if self.day_field else ()
        return (*day, *self.first, *(self.fold.fields if self.fold else ()))

    @property
    def stopped(self) -> list[EntryField]:
        """The inputs that keep it from being saved."""
        return [one for one in self.fields if one.is_stopped]

    def with_fields(self, change: Callable[[EntryField], EntryField]) -> RecordForm:
        """The same form with each input changed."""
        fold = self.fold and folded([change(one) for one in self.fold.fields])
        day = self.day_field and change(self.day_field)
        return self._replace(first=tuple(change(one) for one in self.first), fold=fold, day_field=day)


def form_day(kind: Kind, one: EntryField, *, is_stored: bool) -> FormDay:
    """The day of a record in words, as it is typed or would be taken."""
    text, today = one.typed or one.greyed, today_iso()
    try:
        day = str(read(kind.field(one.name), text, BY_HAND)) if text else ""
    except BevelbookError:
        return FormDay(one, text, False)
    if is_stored or not day:
        return FormDay(one, day_in_words(day) if day else "no day", False)
    return FormDay(one, day_against(day, today), day != today)


def form_fields(kind: Kind) -> tuple[Field, ...]:
    """The fields of a form: all that can be typed but those that only notes have."""
    return tuple(field for field in typed_fields(kind) if field.name not in _OF_NOTES)


def version_of(fields: Iterable[Field]) -> str:
    """A short hash of the names, units and words of a form's fields, in their order."""
    said = "\n".join(f"{one.name} {one.kind} {one.unit} {one.target} {'|'.join(one.choices)}" for one in fields)
    return sha256(said.encode()).hexdigest()[:12]


def new_record_form(
    connection: sqlite3.Connection,
    kind: Kind,
    by: str | None,
    typed: Mapping[str, str],
    *,
    seen_first: Sequence[str] = (),
    offered: Mapping[str, tuple[str, str]] = MappingProxyType({}),
    noted_at: str | None = None,
    likely: dict[str, list[str]] | None = None,
) -> RecordForm:
    """The form of a new record with what was typed so far, and what this writer gets where nothing is typed.

    ``offered`` is what a page takes besides that, by field: the text, and where it comes from; ``noted_at`` is when the
    record was noted, where that is not now. ``likely`` holds the names that each reference most likely means, as far as
    they were looked up for a form of this kind before.
    """
    likely = {} if likely is None else likely
    offered = {**offered_texts(connection, kind, by, typed, noted_at=noted_at), **offered}
    needed = {field.name for field in kind.needed}
    fields = {
        field.name: entry_field(
            field,
            typed=typed.get(field.name, ""),
            names=_likely(connection, kind, field, likely) if field.kind == "reference" else (),
            offered=offered.get(field.name, ("", ""))[0],
            origin=offered.get(field.name, ("", ""))[1],
            is_needed=field.name in needed,
            most=_most_buttons(kind, field),
        )
        for field in form_fields(kind)
    }
    return _form(kind, fields, seen_first)


def _likely(connection: sqlite3.Connection, kind: Kind, field: Field, known: dict[str, list[str]]) -> list[str]:
    if field.name not in known:
        known[field.name] = likely_records(connection, kind, field)
    return known[field.name]


def stored_record_form(
    connection: sqlite3.Connection,
    kind: Kind,
    row_id: str,
    typed: Mapping[str, str] = MappingProxyType({}),
    was: Mapping[str, str] = MappingProxyType({}),
    *,
    seen_first: Sequence[str] = (),
) -> RecordForm:
    """The form of a record as it is stored, with what was typed in it, and the texts (``was``) that the form had when
    it was first drawn."""
    texts = stored_texts(connection, kind, row_id)
    needed = {field.name for field in kind.fields if field.required}
    fields = {
        field.name: entry_field(
            field,
            typed=typed.get(field.name, texts.get(field.name, "")),
            names=likely_records(connection, kind, field, but=row_id) if field.kind == "reference" else (),
            was=was.get(field.name, texts.get(field.name, "")),
            is_needed=field.name in needed,
            most=_most_buttons(kind, field),
        )
        for field in form_fields(kind)
    }
    return _form(kind, fields, seen_first)._replace(stored=row_id)


def stored_texts(connection: sqlite3.Connection, kind: Kind, row_id: str) -> dict[str, str]:
    """A record's values as a person would type them, with names instead of ids; empty ones left out. Of a run also what
    was where in it."""
    values = shown_values(connection, kind, row_id)
    if kind.name == "run":
        values |= values_in_places(run_places.in_run(connection, row_id))
    by_name = {field.name: field for field in typed_fields(kind)}
    return {name: text_of(by_name[name], value) for name, value in values.items() if name in by_name}


def _most_buttons(kind: Kind, field: Field) -> int:
    is_diff = field.kind == "reference" and target_of(kind, field).name == "diff"
    return MOST_DIFFS if is_diff else MOST_BUTTONS


def _form(kind: Kind, fields: Mapping[str, EntryField], seen_first: Sequence[str]) -> RecordForm:
    fields = {name: labelled(kind, one) for name, one in fields.items()}
    wanted = [name for name in seen_first or SEEN_FIRST.get(kind.name, tuple(fields)) if name in fields]
    day = kind.day if kind.day and fills_day(kind) and kind.day in fields and kind.day not in wanted else None
    rest = [one for name, one in fields.items() if name not in wanted and name != day]
    return RecordForm(
        kind,
        tuple(fields[name] for name in wanted),
        folded(rest) if rest else None,
        version_of(form_fields(kind)),
        day_field=fields[day] if day else None,
    )


def labelled(kind: Kind, one: EntryField) -> EntryField:
    label = _LABELS.get((kind.name, one.name))
    if label:
        return one._replace(words=label, about="")
    words = _SAID.get(one.name) if one.name != kind.day or kind.name != "bottle" else None
    return one._replace(words=words) if words else one


def folded(fields: Sequence[EntryField]) -> Fold:
    """Inputs behind one line that names the first of them."""
    named = ", ".join(one.words.lower() for one in fields[:MOST_NAMED]) + (", …" if len(fields) > MOST_NAMED else "")
    is_open = any(one.is_stopped or (one.typed and one.was is None) for one in fields)
    return Fold(f"{counted(len(fields), 'more field')}: {named}", tuple(fields), is_open)
