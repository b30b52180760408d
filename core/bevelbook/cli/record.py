"""``bevelbook record KIND [NAME] FIELD=VALUE ...``."""

from __future__ import annotations

import sys
from functools import partial
from typing import TYPE_CHECKING, Any

import click

from bevelbook.cli import print_json, print_text, report_failed
from bevelbook.cli.files import FROM_DASH, TO_DASH, FileToRead, FileToWrite, ReadFrom, WriteTo
from bevelbook.cli.session import Session
from bevelbook.declare.errors import DatabaseError, InputError, Place, UnknownNameError, shown
from bevelbook.declare.printable import printable

if TYPE_CHECKING:
    from bevelbook.declare.fields import Field
    from bevelbook.entering.record import OddValue
    from bevelbook.records import Kind
    from bevelbook.saving.record import SavedRecord


class RecordCommand(click.Command):
    """Lists the kinds of record at the end of its help."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        from bevelbook.cli.record_kinds import KINDS_HEADING, kind_rows

        with formatter.section(KINDS_HEADING):
            formatter.write_dl([(row.kind, row.line) for row in kind_rows()])
        super().format_epilog(ctx, formatter)


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
@click.option("--file", "file", type=FileToRead(), help=f"The picture of a photograph: JPEG or PNG; {FROM_DASH}")
@click.option("--save-as", type=FileToWrite(), help=f"Write the picture of one into that file; {TO_DASH}")
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
    file: ReadFrom | None,
    save_as: WriteTo | None,
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
    bevelbook record photo --file groove.jpg build=rear-a/3 piece=outdrive side="lid side"
    bevelbook record stock-change stock_part="shaft rings" counted=12
    bevelbook record stock-change kit="rebuild kit" delivered=2
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
    from bevelbook.cli.answering import answer
    from bevelbook.cli.car_records import put_in_car
    from bevelbook.cli.naming import AsFieldWords, named
    from bevelbook.cli.photographs import picture_from, save_picture_as, say_size
    from bevelbook.cli.record_kinds import list_kinds
    from bevelbook.cli.record_questions import ask_for_record
    from bevelbook.cli.removing import remove_record
    from bevelbook.cli.repeated import repeated, say_repeated
    from bevelbook.cli.weighing_questions import settle_weighing
    from bevelbook.entering import car_set, dated_build
    from bevelbook.entering.question import Answers, Question
    from bevelbook.entering.record import split_words
    from bevelbook.entering.stock_words import is_of_kit, with_stock_words
    from bevelbook.entering.typed_fields import typed_fields
    from bevelbook.records import kind_called, kind_in
    from bevelbook.saving.photographs import with_picture
    from bevelbook.saving.record import WantedRecord, read_wanted, save

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
    if save_as is not None:
        return save_picture_as(session, kind, words, save_as, as_json)
    if fields:
        _list_fields(kind, as_json)
        return 0
    short, shared = car_set.short_words(kind, with_stock_words(kind, words))
    name, texts = split_words(kind, shared, partial(_not_there, session))
    if kind.name in car_set.KINDS and name is None:
        return put_in_car(session, kind, texts, short, as_json)
    picture = picture_from(kind, file, is_new=name is None)
    if name is None and not is_of_kit(kind, texts):
        ask_for_record(kind, texts)
    given = {
        dated_build.CLOSED_AGAIN: closed_again,
        dated_build.BEFORE_OPENING: before_opening,
        dated_build.AS_DRY_MASS: as_dry_mass,
        car_set.BEFORE_SWAP: before_swap,
        car_set.AFTER_SWAP: after_swap,
    }
    answers = Answers(for_all=frozenset(key for key, is_given in given.items() if is_given), fluid=fluid)
    wanted = WantedRecord(kind, texts, name, answers)
    with session.writing() as connection, named(AsFieldWords(typed_fields(kind))):
        entry = None
        while entry is None:
            try:
                entry = read_wanted(connection, wanted, session.by)
            except Question as question:
                wanted = wanted._replace(answers=answer(question, session.asked, texts, wanted.answers))
        if picture is not None:
            entry = with_picture(connection, entry, picture)
        entry = settle_weighing(connection, entry, yes)
        _confirm(entry.odd, yes)
        before_this = repeated(connection, entry, session.by, another=another)
        if before_this is not None:
            say_repeated(connection, entry, before_this, as_json)
            return 0
        saved = save(connection, session.registry, entry, session.by)
        size = say_size(connection, saved.row_id) if kind.from_file is not None else ""
    if as_json:
        print_json({**saved.as_dict(), **session.noticed()})
    else:
        _print(saved, size)
    return report_failed(saved.upkeep)


def _print(saved: SavedRecord, size: str) -> None:
    from bevelbook.display.format import wrapped
    from bevelbook.saving.record import DONE_WORDS
    from bevelbook.store.record_names import with_kind

    for build in saved.builds_made:
        print_text(f"Added build {build}: closed again, its masses are not known")
    print_text(f"{DONE_WORDS[saved.done]} {with_kind(saved.kind, saved.label)}")
    for key in {**saved.values, **saved.was}:
        source = f"carried over from {saved.carried[key]}" if key in saved.carried else saved.taken.get(key)
        shown = saved.marked.get(key, _shown(saved.kind, key, saved.values.get(key)))
        before_it = f", was {_shown(saved.kind, key, saved.was[key])}" if key in saved.was else ""
        print_text(f"  {key}: {shown}{before_it}" + (f"  ({source})" if source else ""))
    if size:
        print_text(f"  {size}")
    for line in (*saved.lines_of_run, *(one.words for one in saved.car_changes)):
        print_text(f"  {line}")
    for line in saved.placed.lines():
        print_text("\n".join(wrapped(line)))
    for line in (
        *saved.remarks,
        *saved.read_after,
        *saved.clashes,
        *saved.news.lines(),
        *(one.line() for one in saved.upkeep.worked_out if one.new),
        *saved.upkeep.waiting_lines(),
    ):
        print_text("\n".join(wrapped(line)))


def _shown(kind: Kind, name: str, value: object) -> str:
    """A value as the pages have it; a share as it is typed."""
    from bevelbook.display.format import figure_again, is_share
    from bevelbook.taking_back.words import EMPTY

    if value is None or not isinstance(value, float):
        return EMPTY if value is None else str(value)
    field = next((one for one in kind.fields if one.name == name), None)
    if field is None or is_share(field):
        return f"{value:g}"
    return figure_again(value, field.unit, digits=field.digits)


def _not_there(session: Session, called: str, name: str) -> str:
    """A sentence that the book has neither a diff nor a build of a name, with those that are like it; else nothing."""
    from bevelbook.records import BY_NAME
    from bevelbook.store.lookup import find_id, ids_called

    try:
        with session.reading() as connection:
            if any(ids_called(connection, BY_NAME[kind], name) for kind in ("diff", "build")):
                return ""
            find_id(connection, BY_NAME[called], name)
    except UnknownNameError as unknown:
        return f"There is no diff or build named {shown(name)}. {unknown.near}".rstrip() + " "
    except DatabaseError:
        return ""  # where there is no database, none is known to lack it
    return ""


def _list_fields(kind: Any, as_json: bool) -> None:
    from bevelbook.display.table import table_lines
    from bevelbook.entering.typed_fields import typed_fields

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
    from bevelbook.manual.field_words import or_minutes

    choices = f": {', '.join(field.choices)}" if field.choices else ""
    return f"{field.described()}{or_minutes(field)}{choices}{' (needed)' if is_needed else ''}"


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
