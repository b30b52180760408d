"""``bevelbook card BUILD``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from bevelbook.cli import page_in_words_of_book, print_json, print_text
from bevelbook.cli.files import (
    FROM_DASH,
    TO_DASH,
    FileToRead,
    FileToWrite,
    ReadFrom,
    StandardOutput,
    WriteTo,
    say_written,
    text_into,
)
from bevelbook.cli.session import Session
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import DatabaseError, InputError, Place

if TYPE_CHECKING:
    from bevelbook.card.contents import Card


@click.command("card")
@click.argument("build", required=False)
@click.option(
    "--html",
    type=FileToWrite(),
    help=f"Write one self-contained page that prints on A4 or Letter, a card on two sheets at most; {TO_DASH}",
)
@click.option(
    "--procedure",
    type=FileToRead(),
    help=f"The team's own steps, in the form of the bundled procedure; {FROM_DASH}",
)
@click.option(
    "--run-sheet",
    is_flag=True,
    help="A sheet for the pits instead: six runs, one line each, the diffs of each car printed in.",
)
@click.option("--car", metavar="CAR", help="With --run-sheet: the sheet of this car only.")
@click.option("--all-fields", is_flag=True, help="With --run-sheet: four runs with every field of a run.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    build: str | None,
    html: WriteTo | None,
    procedure: ReadFrom | None,
    run_sheet: bool,
    car: str | None,
    all_fields: bool,
    as_json: bool,
) -> int:
    """Print the card of a build: its numbers, its steps, and boxes for what is still to be measured.

    \b
    bevelbook card rear-a/3
    bevelbook card rear-a --html card.html
    bevelbook card --run-sheet --car blue --html sheet.html
    bevelbook card --run-sheet --all-fields --html form.html

    A diff's label means its last build. Ends with 1 when a calculator's verdict is stop, or when one failed.
    """
    if as_json and isinstance(html, StandardOutput):
        raise click.UsageError("Standard output is the page or the JSON: leave one of them out.")
    if run_sheet:
        if build or procedure:
            raise click.UsageError("--run-sheet is for all builds: it takes neither a build nor a procedure.")
        if all_fields:
            if car:
                raise click.UsageError("--all-fields is a blank form for any car: leave --car out.")
            return _all_fields(_of_invented(session), html, as_json)
        return _run_sheet(session, car, html, as_json)
    if car or all_fields:
        raise click.UsageError(f"{'--car' if car else '--all-fields'} goes with --run-sheet.")
    if not build:
        raise click.UsageError("Name a build, or use --run-sheet.")
    card = _card(session, build, procedure)
    if html:
        from bevelbook.card.html import card_page, whole_page

        _write(html, whole_page(f"{card.build}: card", card_page(card)))
    if as_json:
        print_json(card.as_dict())
    elif not html:
        from bevelbook.card.text import card_lines

        print_text("\n".join(card_lines(card)))
    else:
        say_written(f"Wrote the card of {card.build} to {html}.", html)
    for fault in card.plugin_faults:
        print_text(f"bevelbook: {fault}", err=True)
    return 1 if "stop" in card.verdicts or card.plugin_faults else 0


def _card(session: Session, build: str, procedure: ReadFrom | None) -> Card:
    from bevelbook.card.build_card import card_of
    from bevelbook.card.procedure import read_procedure
    from bevelbook.records import BY_NAME
    from bevelbook.store.lookup import find_id

    steps = read_procedure(procedure) if procedure else None
    with session.reading() as connection:
        return card_of(connection, session.registry, find_id(connection, BY_NAME["build"], build), steps)


def _of_invented(session: Session) -> bool:
    """Whether the sheet goes with an invented database; a blank sheet needs none that can be read."""
    try:
        with session.reading():
            return session.invented
    except DatabaseError:
        return False


def _run_sheet(session: Session, car: str | None, html: WriteTo | None, as_json: bool) -> int:
    from bevelbook.card.run_sheet import blank_run_sheet, run_sheet_of
    from bevelbook.records import BY_NAME
    from bevelbook.store.lookup import find_id

    try:
        with session.reading() as connection:
            car_id = None if car is None else find_id(connection, BY_NAME["car"], car)
            sheet = run_sheet_of(connection, car_id, invented=session.invented)
    except DatabaseError as fault:
        if car is not None:
            raise
        if session.path.exists():
            print_text(f"bevelbook: {fault} The sheet is blank.", err=True)
        sheet = blank_run_sheet()
    if html:
        from bevelbook.card.html import run_sheet_page, whole_page

        _write(html, whole_page(sheet.title, run_sheet_page(sheet)))
    if as_json:
        print_json(sheet.as_dict())
    elif not html:
        from bevelbook.card.sheet_text import run_sheet_lines

        print_text("\n".join(run_sheet_lines(sheet)))
    else:
        paper = counted(len(sheet.sheets), "sheet")
        say_written(f"Wrote the run sheet to {html}: {paper} of paper, printed across.", html)
    return 0


def _all_fields(invented: bool, html: WriteTo | None, as_json: bool) -> int:
    from bevelbook.card.all_fields_sheet import all_fields_sheet

    sheet = all_fields_sheet(invented)
    if html:
        from bevelbook.card.html import all_fields_page, whole_page

        _write(html, whole_page(sheet.title, all_fields_page(sheet)))
    if as_json:
        print_json(sheet.as_dict())
    elif not html:
        from bevelbook.card.sheet_text import all_fields_lines

        print_text("\n".join(all_fields_lines(sheet)))
    else:
        say_written(f"Wrote the run sheet with all fields to {html}.", html)
    return 0


def _write(path: WriteTo, page: str) -> None:
    """Write a page to standard output, or over a card that was printed before, but over no other file."""
    page = page_in_words_of_book(page)
    if isinstance(path, StandardOutput):
        text_into(path, page)
        return
    from bevelbook.card.html import GENERATOR

    place = Place(column="--html")
    try:
        if path.exists():
            with path.open("rb") as file:
                if GENERATOR.encode() not in file.read(400):
                    raise InputError(
                        "another file with that name already exists",
                        code="file_exists",
                        place=place,
                        found=str(path),
                        remedy="Choose another name; a card replaces only a card.",
                    )
        path.write_text(page, encoding="utf-8")
    except OSError as fault:
        raise InputError(
            "the page cannot be written", code="not_writable", place=place, found=f"{path}: {fault.strerror}"
        ) from fault
