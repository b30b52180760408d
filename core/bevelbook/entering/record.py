"""Add or change a record from words such as ``diff=rear-a dry_mass=12.42g like=rear-a/3``."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, InputError, Place, UnknownNameError, with_article
from bevelbook.declare.fields import Field
from bevelbook.declare.in_command import in_command
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.display.begun import begun
from bevelbook.entering import car_set, dated_build, run_places
from bevelbook.entering.bottle_masses import with_bottle_masses_checked
from bevelbook.entering.build_of_other_diff import leave_note_rows
from bevelbook.entering.closed_again import ClosedAgain
from bevelbook.entering.defaults import day_of
from bevelbook.entering.diff_readings import refuse_readings
from bevelbook.entering.dry_mass_of_next import build_of_dry_mass
from bevelbook.entering.equal_names import NAMED_ONCE
from bevelbook.entering.event_days import event_remarks, refuse_car_twice, refuse_odd_event
from bevelbook.entering.event_of_run import EVENT, EventForRun, event_for_run
from bevelbook.entering.lap_checks import with_laps_checked
from bevelbook.entering.like import carried_over, pieces_carried, pieces_in_words
from bevelbook.entering.limit_unit import with_limit_unit
from bevelbook.entering.made_like import refuse_odd_like
from bevelbook.entering.mass_checks import with_masses_checked
from bevelbook.entering.measured_value import measured_value
from bevelbook.entering.oil_change import write_oil_by_difference
from bevelbook.entering.one_of import refuse_not_one_of
from bevelbook.entering.opening_mass import with_opening_mass_asked
from bevelbook.entering.question import NO_ANSWERS, Answers
from bevelbook.entering.similar_name import similar_name
from bevelbook.entering.sister_mass import with_sister_asked
from bevelbook.entering.stock_words import is_of_kit, kit_delivered
from bevelbook.entering.typed_fields import typed_fields
from bevelbook.entering.zeroed_fill import with_zeroed_fill
from bevelbook.entering.zeroed_weighing import with_zeroed_weighing
from bevelbook.facts.car_times import SWAP
from bevelbook.reading import BY_HAND, comma_in_words, implausible, names_record, outside_sane_range, read
from bevelbook.reading.labels import (
    folded_label,
    one_line,
    plain_label,
    refuse_ditto,
    refuse_dots,
    refuse_long_name,
    taken_out_of_name,
)
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.ids import new_id, new_id_of
from bevelbook.store.lookup import find_id, label_of, next_build_label, next_run_label
from bevelbook.store.piece_ids import new_piece_id
from bevelbook.store.take_back import SetAside
from bevelbook.store.two_of_a_name import keep_apart
from bevelbook.store.writing import Writer

_OF_A_RUN_LATER: Final = frozenset((*run_places.NAMES, "event"))
"""Fields of a run that are read once its day is known."""
_SAID_BY_JOIN: Final = frozenset({"kind", "one", "other", "same"})


class OddValue(NamedTuple):
    """A value to be confirmed: outside the range of sane values, or read from a doubtful comma.

    Its field, its text as typed, what is odd about it, and all in words.
    """

    field: Field
    text: str
    outside: str
    words: str
    code: str = "implausible"


class PreparedRecord(NamedTuple):
    """A record to be written: its values, the text of each as typed, what was carried over, and what looks odd.

    ``places`` is what was where in a run, ``beside`` are lines on what else sits in the car, ``made`` the builds that
    have to be written first, ``more`` the values of further records of its kind that are written with it. ``taken``
    says of a value that was not typed where it was taken from; ``remarks`` are sentences to show with it. ``new_event``
    is the name of the event of a run that has to be written first.
    """

    kind: Kind
    values: dict[str, Any]
    entered: dict[str, str]
    carried: dict[str, str]
    odd: tuple[OddValue, ...]
    row_id: str | None = None
    places: tuple[run_places.InPlace, ...] = ()
    made: tuple[ClosedAgain, ...] = ()
    beside: tuple[str, ...] = ()
    taken: Mapping[str, str] = {}
    remarks: tuple[str, ...] = ()
    more: tuple[Mapping[str, Any], ...] = ()
    new_event: str | None = None


class Written(NamedTuple):
    """What was written."""

    row_id: str
    label: str
    changed: bool
    aside: Mapping[str, SetAside] = {}
    """Note rows, by id, that a build left behind that is of another diff now: they are to be placed again."""
    more: tuple[str, ...] = ()
    """The ids of further records that were written with it."""


def split_words(
    kind: Kind, words: list[str], not_there: Callable[[str, str], str] | None = None
) -> tuple[str | None, dict[str, str]]:
    """``["rear-a/3", "dry_mass=12.42g"]`` to the name of a record to change (or None) and texts by field name.

    ``not_there`` says of a name whether the book has no diff and no build of it, in a sentence, empty where it has; its
    first argument is the kind that it was called. Raises InputError, or UnknownNameError for a field that the kind does
    not have.
    """
    name: str | None = None
    texts: dict[str, str] = {}
    fields = typed_fields(kind)
    by_key = {key: field.name for field in fields for key in (field.stem, field.name)}
    for place, word in enumerate(words):
        key, equals, text = word.partition("=")
        if not equals:
            if place:
                raise InputError("a word without =", code="no_equals", found=word, wanted="FIELD=VALUE")
            name = word
            continue
        key = key.strip().replace("-", "_")
        if key in by_key:
            texts[by_key[key]] = text
        else:
            raise UnknownNameError(
                f"field of {with_article(kind.name.replace('_', ' '))}",
                key,
                [field.stem for field in fields],
                by_command=f"{_named_by(kind, key, text, not_there)}"
                f"'bevelbook record {kind.name.replace('_', '-')} --fields' lists them.",
            )
    return name, texts


def _named_by(kind: Kind, key: str, text: str, not_there: Callable[[str, str], str] | None) -> str:
    """Which field leads to the diff or build that a person named where a record has none of its own; else nothing.

    A weighing is of a build, and the build is of a diff: who writes ``diff=rear-a`` there wants ``build=rear-a``. In a
    run a diff, or its build, is named by its place. What the book does not have is not advised.
    """
    if key not in ("diff", "build"):
        return ""
    named = text.strip()
    either = not_there(key, named) if named and not_there is not None else ""
    shown_as = "..." if either else named or "..."
    if any(one.stem == "build" and one.target == "build" for one in kind.fields):
        typed = in_command(f"build={shown_as}")
        return f"Type {typed}: a diff's label means its last build, one before it is named by its own. {either}"
    places = [one.stem for one in typed_fields(kind) if one.stem in POSITIONS]
    if places:
        return f"Name it by its place: {' or '.join(in_command(f'{place}={shown_as}') for place in places)}. {either}"
    return ""


def missing_fields(kind: Kind, texts: Mapping[str, str]) -> list[Field]:
    """The required fields that are not given and that the tool does not fill itself."""
    needed = {field.name for field in kind.needed} | {kind.day}
    return [field for field in kind.fields if field.required and field.name in needed and not texts.get(field.name)]


def missing(kind: Kind, lacking: list[Field]) -> InputError:
    """The error for a record without fields that it needs."""
    return InputError(
        f"{with_article(kind.name.replace('_', ' '))} needs {', '.join(field.stem for field in lacking)}",
        code="missing_input",
        remedy=" ".join(f"{field.stem}: {field.about}." for field in lacking),
    )


def prepare(
    connection: sqlite3.Connection,
    kind: Kind,
    name: str | None,
    texts: Mapping[str, str],
    answered: Answers = NO_ANSWERS,
    *,
    noted_at: str | None = None,
) -> PreparedRecord:
    """Read every value, resolve names to ids, and carry over the fields of ``like=``. Writes nothing.

    ``noted_at`` is when a new record was noted, as the database keeps times, where that is not now: what was changed in
    a car since does not count, and days are read as of then.

    Raises InputError or UnknownNameError with the field's name as place, and Question where only a person knows: read
    the record again with its answer.
    """
    row_id = find_id(connection, kind, name) if name else None
    _refuse_dots(kind, texts)
    if kind.name == "join" and (row_id is None or not _SAID_BY_JOIN.isdisjoint(texts)):
        raise InputError(
            "which two records are one is not written by their ids",
            code="join_by_command",
            remedy="Say it with 'bevelbook join KIND A B'.",
        )
    values: dict[str, Any] = {}
    odd: list[OddValue] = []
    taken_from: dict[str, str] = {}
    today = day_of(noted_at) if noted_at else None

    def read_value(key: str, field: Field, text: str) -> Any:
        value: Any
        measured = measured_value(kind, field, text, texts)
        if measured is not None:
            value, text = measured.value, measured.text
            values[measured.uncertainty_field] = measured.uncertainty
            taken_from[measured.uncertainty_field] = measured.words
        else:
            value = _value(connection, kind, key, field, text, today)
        if value is None and not field.required and not field.nullable:
            value = field.default
        outside, words = outside_sane_range(field, value), implausible(field, value)
        if outside and words:
            odd.append(OddValue(field, text, outside, words))
        by_comma = comma_in_words(field, text, value)
        if by_comma:
            odd.append(
                OddValue(field, text, by_comma, f"{field.words} {text.strip()} is {by_comma}", "ambiguous_number")
            )
        return value

    dated = dated_build.is_dated(kind) and texts.get("build", "").strip()
    for key, text in texts.items():
        if not (key in _OF_A_RUN_LATER and kind.name == "run") and not (key == "build" and dated):
            values[key] = read_value(key, kind.field(key), text)
    made: tuple[ClosedAgain, ...] = ()
    if dated:
        day = dated_build.day_of(connection, kind, row_id, values)
        noun = "run" if kind.name == "run_diff" else kind.name
        written = dated_build.builds_written(connection, kind, row_id, values)
        at = dated_build.time_of(connection, kind, row_id, values)
        build = dated_build.build_for(
            connection, dated, field="build", day=day, noun=noun, answered=answered, written=written, at=at
        )
        if build.dry_mass_of is not None:
            next_build = _as_dry_mass(connection, build.dry_mass_of, build.build, values, texts, tuple(odd))
            return with_masses_checked(connection, next_build)
        taken_from |= {"build": build.why} if build.why else {}
        values["build"], made = build.build, (build.made,) if build.made else ()
    if kind.name == "run_diff" and row_id is None and values.get("run"):
        row = run_places.place_in_run(connection, values["run"], values.get("position"), values.get("build"))
        row_id = row[0] if row else None
    places, taken, of_event = run_places.Places(), car_set.NOTHING_TAKEN, EventForRun(None)
    if kind.name == "run":
        if row_id is None:
            if "car" not in texts and (only := car_set.only_car(connection)):
                values["car"], taken_from["car"] = only, car_set.ONLY_CAR
            taken = car_set.taken_by_run(connection, values, texts, answered, noted_at=noted_at)
            taken_from |= {SWAP: taken.swap} if taken.swap else {}
        day = dated_build.day_of(connection, kind, row_id, values)
        if "event" in texts:
            of_event = event_for_run(connection, texts["event"], day, _venue(connection, row_id, values))
            values["event"] = of_event.event
        typed = {**texts, **taken.diffs}
        written = dated_build.builds_written(connection, kind, row_id, values)
        at = dated_build.time_of(connection, kind, row_id, values)
        places = run_places.read_places(
            connection, typed, day, answered, read_value, taken.since, written=written, at=at
        )
    if row_id is None:
        car_set.fill(connection, kind, values, today=today)
    carried = carried_over(connection, kind, values) if row_id is None else {}
    pieces = pieces_in_words(connection, kind, values, texts) if row_id is None else ()
    kit = kit_delivered(connection, values) if row_id is None and is_of_kit(kind, texts) else None
    if kit is not None:
        values |= kit.changes[0]
    refuse_odd_event(connection, kind, row_id, values)
    refuse_car_twice(connection, kind, row_id, values)
    if row_id is None:
        refuse_not_one_of(connection, kind, None, values)
        lacking = [field for field in missing_fields(kind, texts) if values.get(field.name) is None]
        if lacking:
            raise missing(kind, lacking)
        _make_labels(connection, kind, values)
    else:
        refuse_not_one_of(connection, kind, row_id, values)
    made = (*made, *places.made)
    entry = PreparedRecord(
        kind, values, dict(texts), carried, tuple(odd), row_id, places.at, made, taken.beside, taken_from
    )
    alike = similar_name(connection, kind, values.get(kind.label or "")) if row_id is None else ()
    odd_event = (of_event.remark,) if of_event.remark else tuple(event_remarks(connection, kind, row_id, values))
    out_of_name = _out_of_name(kind, texts, values)
    if pieces or alike or odd_event or out_of_name:
        remarks = (*out_of_name, *pieces, *alike, *odd_event)
        entry = entry._replace(remarks=remarks, new_event=of_event.new_name)
    if kit is not None:
        entry = entry._replace(remarks=(*out_of_name, f"{kit.words}."), more=kit.changes[1:])
    entry = with_zeroed_weighing(connection, with_zeroed_fill(connection, entry))
    entry = with_opening_mass_asked(connection, with_masses_checked(connection, entry))
    entry = with_bottle_masses_checked(connection, with_sister_asked(connection, entry))
    return with_limit_unit(connection, with_laps_checked(connection, entry))


def _out_of_name(kind: Kind, texts: Mapping[str, str], values: Mapping[str, Any]) -> tuple[str, ...]:
    """What was taken out of a name as it was typed, in words."""
    if kind.label is None or kind.name == "idea":
        return ()
    said = taken_out_of_name(texts.get(kind.label, ""), str(values.get(kind.label) or ""))
    return (f"{begun(said)}.",) if said else ()


def _refuse_dots(kind: Kind, texts: Mapping[str, str]) -> None:
    """Raise ReadingError (not_a_name) for dots where a record is named, or in a text that the record needs: they are
    what a command to copy has there. A remark is left as it was written."""
    for field in typed_fields(kind):
        if field.name in texts and (names_record(field) or field.name == kind.label or field.required):
            refuse_dots(field, texts[field.name])


def _as_dry_mass(
    connection: sqlite3.Connection,
    diff: str,
    last: str | None,
    values: dict[str, Any],
    texts: Mapping[str, str],
    odd: tuple[OddValue, ...],
) -> PreparedRecord:
    """The build of which a weighing is the dry mass."""
    if "mass_g" not in values:
        raise missing(BY_NAME["weighing"], [BY_NAME["weighing"].field("mass_g")])
    build = build_of_dry_mass(connection, diff, last, values)
    entered = {"dry_mass_g": texts["mass_g"], **{name: text for name, text in texts.items() if name in build}}
    return PreparedRecord(BY_NAME["build"], build, entered, {}, odd)


def write(
    connection: sqlite3.Connection,
    entry: PreparedRecord,
    by: str | None,
    clock: Callable[[], str],
    *,
    noted_at: str | None = None,
) -> Written:
    """Write a prepared record. Runs inside the caller's transaction. A new one that was noted before now stands among
    those of that time: it has that moment as the one at which it was written down, and its id is of it."""
    writer = Writer(connection, by, (lambda: noted_at) if noted_at else clock)
    kind = entry.kind
    if entry.new_event is not None:
        entry.values["event"] = writer.insert(EVENT, {"name": entry.new_event})
    for build in entry.made:
        build.write(connection, writer)
    carried = {name: f"carried over from {source}" for name, source in entry.carried.items()}
    entered = {**entry.taken, **entry.entered, **carried}
    aside: Mapping[str, SetAside] = {}
    named_before = folded_label(label_of(connection, kind, entry.row_id)) if entry.row_id is not None else None
    if entry.row_id is not None:
        if kind.name == "build":
            aside = leave_note_rows(connection, entry.row_id, entry.values.get("diff"))
        changed = writer.update(kind, entry.row_id, entry.values, entered=entered) if entry.values else False
        row_id = entry.row_id
    else:
        row_id, changed = _insert(writer, kind, entry.values, entered, noted_at), True
        if kind.name == "build" and entry.values.get("like"):
            for piece, of_piece in pieces_carried(connection, entry.values, entry.entered):
                _insert(writer, piece, {**of_piece, "build": row_id})
    more = tuple(_insert(writer, kind, values, entered, noted_at) for values in entry.more)
    label = entry.values.get(kind.label or "")
    if isinstance(label, str) and folded_label(label) != named_before:
        keep_apart(writer, kind, row_id)
    if kind.name == "build" and not {"kind", "washed", "filled_mass_g"}.isdisjoint(entry.values):
        write_oil_by_difference(connection, writer, row_id)
    changed = run_places.write_places(connection, writer, row_id, entry.places) or changed
    if kind.name == "run_diff" or entry.places:
        run = row_id if kind.name == "run" else _run_of(connection, row_id)
        run_places.refuse_twice(connection, run)
        refuse_readings(connection, run)
    if dated_build.moves_in_time(kind, entry.values) or entry.places:
        dated_build.refuse_before_its_build(connection, kind, row_id)
    refuse_odd_like(connection, kind, row_id, entry.values)
    return Written(row_id, label_of(connection, kind, row_id), changed, aside, more)


def _venue(connection: sqlite3.Connection, run: str | None, values: Mapping[str, Any]) -> str | None:
    """Where a run was, by id, with ``values`` typed for it."""
    if "venue" in values or run is None:
        return values.get("venue")
    row = connection.execute("SELECT venue FROM runs WHERE id = ?", (run,)).fetchone()
    return row[0] if row else None


def _run_of(connection: sqlite3.Connection, run_diff: str) -> str:
    return str(connection.execute("SELECT run FROM run_diffs WHERE id = ?", (run_diff,)).fetchone()[0])


def _value(
    connection: sqlite3.Connection, kind: Kind, key: str, field: Field, text: str, today: str | None = None
) -> Any:
    if not text.strip() and not field.required:
        return None
    try:
        if field.kind == "reference" and field.target:
            return find_id(connection, BY_NAME[field.target], text.strip())
        if field.kind == "date" and text.strip().lower() == "today":
            return today or date.today().isoformat()
        if field.name == kind.label and kind.name != "idea":
            refuse_long_name(field, text)
            text = one_line(text)
        if field.name == kind.label and kind.name in NAMED_ONCE and kind.name != "idea":
            refuse_ditto(field, text)
            text = plain_label(text)
        return read(field, text, BY_HAND._replace(today=today))
    except BevelbookError as fault:
        fault.place = Place(field=key)
        if fault.code == "approximate_value":
            where = "; put the uncertainty in the note" if "note" in kind.columns else ""
            fault.remedy = f"Record takes the value alone{where}."
        by_name = "fluid" if "fluid" in kind.columns else "label" if kind.name == "fluid" else None
        if fault.code == "viscosity_unit_wt" and by_name is not None and not field.required:
            fault.remedy = Sentence(
                "Give it as ",
                Named(by_name),
                ", the fluid's name, and leave ",
                Named(key),
                " out until it is known in cSt.",
            )
        raise


def _make_labels(connection: sqlite3.Connection, kind: Kind, values: dict[str, Any]) -> None:
    if values.get("label"):
        return
    if kind.name == "build":
        values["label"] = next_build_label(connection, values["diff"])
    elif kind.name == "run":
        values["label"] = next_run_label(connection, values["run_on"])


def _insert(
    writer: Writer,
    kind: Kind,
    values: Mapping[str, Any],
    entered: Mapping[str, str] | None = None,
    noted_at: str | None = None,
) -> str:
    if kind.name == "run_diff":
        row_id = run_places.id_in_run(writer.connection, values["run"], values.get("position"), values["build"])
    else:
        made = new_id_of(noted_at) if noted_at else new_id()
        row_id = new_piece_id(writer.connection, kind, values) or made
    return writer.insert(kind, values, row_id=row_id, entered=entered)
