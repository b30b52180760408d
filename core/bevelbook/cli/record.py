"""``bevelbook record KIND [NAME] FIELD=VALUE ...``."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from bevelbook.cli import print_json, print_text, report_failed
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.printable import printable

if TYPE_CHECKING:
    from collections.abc import Mapping

    from bevelbook.declare.fields import Field
    from bevelbook.entering.record import OddValue


class RecordCommand(click.Command):
    """Lists the kinds of record at the end of its help."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        from bevelbook.cli.record_kinds import KINDS_HEADING, kind_rows

        with formatter.section(KINDS_HEADING):
            formatter.write_dl([(row.kind, row.line) for row in kind_rows()])


@click.command("record", cls=RecordCommand, context_settings={"ignore_unknown_options": True})
@click.argument("words", metavar="KIND [NAME] [FIELD=VALUE]...", nargs=-1)
@click.option("--fields", is_flag=True, help="List the fields of this kind of record, and write nothing.")
@click.option(
    "--yes",
    is_flag=True,
    help="Take values outside the range of sane values, and a reading that is off like another one, without asking.",
)
@click.option("--another", is_flag=True, help="Add a record although there is one of that name, or one just like it.")
@click.option("--closed-again", is_flag=True, help="The diff was apart by the records, but was closed again.")
@click.option("--fluid", metavar="NAME", help="With --closed-again: the oil in it; without, as before.")
@click.option("--before-opening", is_flag=True, help="It was before the diff was opened, on the same day.")
@click.option("--as-dry-mass", is_flag=True, help="A weighing of a diff that is apart: the dry mass of its next build.")
@click.option(
    "--before-swap", is_flag=True, help="A run of a past day: before what was changed last in its car that day."
)
@click.option("--after-swap", is_flag=True, help="A run of a past day: after that.")
@click.option("--remove", metavar="WHY", help="Remove the record named NAME; history keeps it, and why.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    words: tuple[str, ...],
    fields: bool,
    yes: bool,
    another: bool,
    closed_again: bool,
    fluid: str | None,
    before_opening: bool,
    as_dry_mass: bool,
    before_swap: bool,
    after_swap: bool,
    remove: str | None,
    as_json: bool,
) -> int:
    """Add a record, or change or remove the one named NAME.

    \b
    bevelbook record diff label=rear-a usual_position=rear
    bevelbook record build diff=rear-a built_on=today dry_mass=12.42g oil_mass=1.86g
    bevelbook record build rear-a/3 hand_feel=smooth
    bevelbook record build diff=rear-a built_on=today dry_mass=12.41g like=rear-a/3
    bevelbook record run run_on=today venue="Tannery Hall" grip=high rear=rear-a rear_temp=38
    bevelbook record run 2026-05-03/2 --remove "written twice"

    Other records are named by their labels; for a run or a weighing the name of a diff means the build that was in use
    on that day. like= carries over from another build what is decided and not weighed,
    and shows it as carried over. On a terminal it asks for what is missing; a script gets an error.

    Without a day it takes that of your last entry if that is under 12 hours old, else today; for a mass the scale that
    was used last; and with --by the person who writes, if recorded. It shows what it took; FIELD= leaves one out.

    What follows from the record is worked out with it: after a weighing it says what the build has lost, and the new
    word of a diff on the shelf if that has changed. If a plugin fails at that, the record is kept, the plugin is named,
    and the command ends with 1.
    """
    from bevelbook.calculating.recalculate import depending_on, recalculate_depending, recalculate_for
    from bevelbook.cli.answering import answer
    from bevelbook.cli.car_records import put_in_car
    from bevelbook.cli.naming import AsFieldWords, named
    from bevelbook.cli.record_kinds import list_kinds
    from bevelbook.cli.record_questions import ask_for_record
    from bevelbook.cli.removing import remove_record
    from bevelbook.cli.repeated import repeated, say_repeated
    from bevelbook.cli.weighing_questions import settle_weighing
    from bevelbook.display.format import wrapped
    from bevelbook.entering import car_set, dated_build, run_places
    from bevelbook.entering.defaults import filled_in, refuse_empty_record, with_reasons
    from bevelbook.entering.diff_readings import read_after_run
    from bevelbook.entering.question import Answers, Question
    from bevelbook.entering.record import prepare, shown_values, split_words, typed_fields, write
    from bevelbook.entering.scale_figures import scales_before, set_again
    from bevelbook.facts.car_values import changes_since_last_run
    from bevelbook.facts.renew import renew_touched
    from bevelbook.notes.late_builds import place_rows_of_touched_builds
    from bevelbook.records import BY_NAME, kind_called, kind_in
    from bevelbook.reports.what_changed import news_of, touched_on_shelf
    from bevelbook.store.record_names import marked_diffs, with_kind
    from bevelbook.store.writing import now_utc

    if not words:
        list_kinds(as_json)
        return 0
    count = kind_in(words)
    kind = kind_called(" ".join(words[: count or 1]))
    words = words[count:]
    if not kind.own:
        raise InputError(
            f"{kind.table.replace('_', ' ')} are written by the tool only",
            code="not_for_hand",
            remedy="Use 'bevelbook calc --keep' or 'bevelbook import'.",
        )
    if remove is not None:
        return remove_record(session, kind, words, remove, as_json)
    if fields:
        _list_fields(kind, as_json)
        return 0
    short, shared = car_set.short_words(kind, list(words))
    name, texts = split_words(kind, shared)
    if kind.name in car_set.KINDS and name is None:
        return put_in_car(session, kind, texts, short, as_json)
    if name is None:
        ask_for_record(kind, texts)
    given = {
        dated_build.CLOSED_AGAIN: closed_again,
        dated_build.BEFORE_OPENING: before_opening,
        dated_build.AS_DRY_MASS: as_dry_mass,
        car_set.BEFORE_SWAP: before_swap,
        car_set.AFTER_SWAP: after_swap,
    }
    answers = Answers(for_all=frozenset(key for key, is_given in given.items() if is_given), fluid=fluid)
    with session.writing() as connection:
        why: dict[str, str] = {}
        if name is None:
            refuse_empty_record(kind, texts)
            texts, why = filled_in(connection, kind, texts, session.by, now_utc())
        with named(AsFieldWords(typed_fields(kind))):
            entry = None
            while entry is None:
                try:
                    entry = prepare(connection, kind, name, texts, answers)
                except Question as question:
                    answers = answer(question, session.asked, texts, answers)
            entry = settle_weighing(connection, with_reasons(entry, why), yes)
            _confirm(entry.odd, yes)
            before_this = repeated(connection, entry, session.by, another=another)
        if before_this is not None:
            say_repeated(connection, entry, before_this, as_json)
            return 0
        kind = entry.kind
        was = shown_values(connection, kind, entry.row_id) if entry.row_id else {}
        sat_before = run_places.in_run(connection, entry.row_id) if kind.name == "run" and entry.row_id else []
        of_scales = scales_before(connection, kind, entry.row_id, entry.values)
        with named(AsFieldWords(typed_fields(kind))):
            written = write(connection, entry, session.by, now_utc)
        set_scales = set_again(connection, of_scales, session.by, now_utc)
        placed = place_rows_of_touched_builds(connection, session.by, aside=written.aside)
        before = touched_on_shelf(connection)
        renew_touched(connection)
        upkeep = recalculate_for(connection, session.registry, kind.name, written.row_id, session.by, now_utc())
        if kind.name != "scale" and set_scales:
            touched = [(BY_NAME["scale"], one.row_id) for one in set_scales]
            depending = depending_on(connection, session.registry, touched)
            upkeep = recalculate_depending(connection, session.registry, depending, session.by)
        values = shown_values(connection, kind, written.row_id)
        was = {key: was.get(key) for key in (*values, *was) if entry.row_id and was.get(key) != values.get(key)}
        marked = marked_diffs(connection, kind, written.row_id)
        sat = run_places.in_run(connection, written.row_id) if kind.name == "run" else []
        beside = entry.beside
        if kind.name == "run" and entry.row_id:
            beside = car_set.beside_in_run(connection, written.row_id)
        lines_of_run = run_places.lines(sat, entry.places, beside, sat_before)
        read_after = (*read_after_run(connection, kind, written.row_id), *_on_dark_oil(kind, values))
        read_after = (*read_after, *(one.words for one in set_scales))
        changed = changes_since_last_run(connection, written.row_id) if kind.name == "run" else []
        news = news_of(connection, kind, written.row_id, before, entry.values)
    done = "Changed" if entry.row_id and written.changed else "Added" if written.changed else "Nothing to change in"
    if as_json:
        print_json(
            {
                "record": kind.name,
                "id": written.row_id,
                "label": written.label,
                "done": done.split()[0].lower(),
                "values": values,
                "was": was,
                "carried_over": entry.carried,
                "taken": dict(entry.taken),
                "places": run_places.for_programs(sat, entry.places),
                "beside": list(beside),
                "car_changes": [one._asdict() for one in changed],
                "builds_made": [one.label for one in entry.made],
                **placed.as_dict(),
                "findings": [*(one.words for one in entry.odd), *entry.remarks, *read_after],
                "kept": [one.as_dict() for one in upkeep.worked_out],
                "plugin_faults": upkeep.faults(),
                **news.as_dict(),
                **session.noticed(),
            }
        )
        return report_failed(upkeep)
    for build in entry.made:
        print_text(f"Added build {build.label}: closed again, its masses are not known")
    print_text(f"{done} {with_kind(kind, written.label)}")
    for key in {**values, **was}:
        source = f"carried over from {entry.carried[key]}" if key in entry.carried else entry.taken.get(key)
        shown = marked.get(key, _shown(values.get(key)))
        before_it = f", was {_shown(was[key])}" if key in was else ""
        print_text(f"  {key}: {shown}{before_it}" + (f"  ({source})" if source else ""))
    for line in (*lines_of_run, *(one.words for one in changed)):
        print_text(f"  {line}")
    for line in placed.lines():
        print_text("\n".join(wrapped(line)))
    for line in (
        *entry.remarks,
        *read_after,
        *news.lines(),
        *(one.line() for one in upkeep.worked_out if one.new),
        *upkeep.waiting_lines(),
    ):
        print_text("\n".join(wrapped(line)))
    return report_failed(upkeep)


def _on_dark_oil(kind: Any, values: Mapping[str, Any]) -> tuple[str, ...]:
    """What dark oil found at an opening means."""
    from bevelbook.physics.suspension import dark_oil_words

    words = dark_oil_words(values.get("oil")) if kind.name == "opening" else None
    return (words[:1].upper() + words[1:],) if words else ()


def _shown(value: object) -> str:
    from bevelbook.taking_back.words import EMPTY

    return EMPTY if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _list_fields(kind: Any, as_json: bool) -> None:
    from bevelbook.display.table import table_lines
    from bevelbook.entering.record import typed_fields

    fields = typed_fields(kind)
    needed = {field.name for field in kind.needed}
    if as_json:
        print_json(
            [
                {
                    "name": field.name,
                    "about": field.about,
                    "unit": field.unit,
                    "choices": list(field.choices),
                    "required": field.name in needed,
                }
                for field in fields
            ]
        )
        return
    for line in table_lines((field.stem, _explained(field, field.name in needed)) for field in fields):
        print_text(line)


def _explained(field: Field, is_needed: bool) -> str:
    choices = f": {', '.join(field.choices)}" if field.choices else ""
    return f"{field.described()}{choices}{' (needed)' if is_needed else ''}"


def _confirm(odd: tuple[OddValue, ...], yes: bool) -> None:
    if not odd or yes:
        return
    if sys.stdin.isatty():
        click.confirm(printable(f"{'; '.join(one.words for one in odd)}. Is that right?"), abort=True)
        return
    first, *others = odd
    more = "".join(f"{one.field.stem} is {one.outside} too. " for one in others)
    raise InputError(
        first.outside,
        code="ambiguous_number" if first.code == "ambiguous_number" else "implausible",
        place=Place(field=first.field.name),
        found=first.text,
        remedy=f"{more}Give --yes if that is right. Nothing was changed.",
    )
