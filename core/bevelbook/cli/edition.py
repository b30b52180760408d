"""``bevelbook edition``: a dated copy for others."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, say_beside, say_if_invented
from bevelbook.cli.files import FolderToUse
from bevelbook.cli.session import Session
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.declare.in_command import asked_again, in_command

if TYPE_CHECKING:
    from bevelbook.edition.edition_copy import EditionCopy
    from bevelbook.edition.edition_metadata import EditionSaid
    from bevelbook.edition.write_edition import WrittenEdition
    from bevelbook.web.static_site.write_site import SiteWritten

_LABELS = 5
_TO_LOOK_AT = 8
_PAGES_BETWEEN = 500


@click.command("edition")
@click.argument("folder", metavar="FOLDER", type=FolderToUse())
@click.option("--without-people", is_flag=True, help="Leave out people and sheets, and replace names in notes.")
@click.option("--without-days", is_flag=True, help="Of days and times keep the quarter and their order.")
@click.option("--with-files", is_flag=True, help="Photographs and kept files of notes too.")
@click.option("--static", "with_pages", is_flag=True, help="Pages too, which any web space serves.")
@click.option("--index", "is_indexed", is_flag=True, help="Let search engines take in these pages.")
@click.option("--title", metavar="TEXT", help="What it is called where it is served.")
@click.option("--license", "terms", metavar="TEXT", help="Under which terms others may use it.")
@click.option("--license-url", metavar="ADDRESS", help="Where these terms are written.")
@click.option("--source", metavar="TEXT", help="Where it comes from, as you want it to be said.")
@click.option("--source-url", metavar="ADDRESS", help="An address of that.")
@click.option("--yes", is_flag=True, help="Do not ask about names that are words as well.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    /,
    folder: Path,
    without_people: bool,
    without_days: bool,
    with_files: bool,
    with_pages: bool,
    is_indexed: bool,
    title: str | None,
    terms: str | None,
    license_url: str | None,
    source: str | None,
    source_url: str | None,
    yes: bool,
    as_json: bool,
) -> int:
    """Write a dated copy of the database for others into FOLDER, with how to serve it.

    \b
    bevelbook edition season-for-all
    bevelbook edition season-for-all --without-people --license "CC BY 4.0"
    bevelbook edition season-for-all --without-people --static

    It is only read: nobody writes into it. The past, entries and rejected rows stay here; photographs and kept files
    too, unless --with-files. The same content gives the same bytes. An earlier edition of this database in FOLDER is
    replaced.

    With --static the pages are in FOLDER too, from index.html on, with their charts and a search: put the folder on any
    web space, or open it by itself. Nothing runs there. Calculators, forms and tables are left out.

    With --without-people nobody's name is left: names in notes become driver 1, driver 2. A name that is a word as
    well, such as may, is shown with the places where it stands before anything is written. What an edition cannot hide
    stands in its README.md.
    """
    if with_files and (without_people or without_days):
        raise click.UsageError("Files and photographs show names and days: leave --with-files out.")
    if is_indexed and not with_pages:
        raise click.UsageError("Only pages can be found by search engines: say --static too.")
    from bevelbook.display.days import day_in_words
    from bevelbook.edition.edition_copy import EditionParts, edition_copy
    from bevelbook.edition.edition_metadata import EditionSaid
    from bevelbook.edition.write_edition import book_of, refuse_unless_edition, write_edition
    from bevelbook.store.edition_mark import edition_of

    parts = EditionParts(without_people, without_days, with_files)
    said = EditionSaid(title, terms, license_url, source, source_url)
    with session.reading() as connection:
        book = book_of(session.path, is_edition=edition_of(connection) is not None)
        refuse_unless_edition(folder, book)
        with edition_copy(connection, session.path, parts, session.registry) as copy:
            agreeing = asked_again(session.asked, "--yes")
            _ask_about_names(copy, agreeing, is_agreed=yes, as_json=as_json)
            named = _said_with_a_name(copy, book, said, agreeing, is_agreed=yes)
            day = datetime.now().astimezone().date()
            pages: list[SiteWritten] = []

            def write_pages(file: Path, made: Path) -> None:
                from bevelbook.web.static_site.write_site import write_site

                as_of = day_in_words(day.isoformat())
                written = write_site(
                    file, made, session.registry, as_of=as_of, day=day, is_indexed=is_indexed, progress=_say_how_many
                )
                pages.append(written)

            also = write_pages if with_pages else None
            written = write_edition(copy, folder, session.registry, book=book, day=day, said=said, also=also)
    if as_json:
        print_json(_as_dict(written, copy) | {"static": pages[0]._asdict() if pages else None})
        return 0
    for line in _lines(written, copy, *pages):
        print_text(line)
    for text in named:
        print_text(f"'{text}' stands in it as its name, title, terms or source, and may name somebody.")
    say_if_invented(copy.invented)
    return 0


def _say_how_many(before: int, count: int) -> None:
    """Say on a terminal now and then how many pages there are so far, since a large book takes minutes."""
    if sys.stderr.isatty() and before // _PAGES_BETWEEN < count // _PAGES_BETWEEN:
        say_beside(f"{count:,} pages so far")


def _said_with_a_name(copy: EditionCopy, book: str, said: EditionSaid, agreeing: str, *, is_agreed: bool) -> list[str]:
    """The name of the book, by which its file is called, and what is said of the edition, where they name one of the
    people who are left out. Raises InputError unless a person agrees."""
    found = [text for text in dict.fromkeys((book, *said)) if text and copy.is_named_in(text)]
    if found and not is_agreed:
        raise InputError(
            "nobody is to be named in this edition, but the name of the database, the title, the terms or the source "
            "names somebody",
            code="title_names_a_person",
            found=", ".join(found),
            remedy="Say it without that name. For another name of the file make a database of that name with "
            "'bevelbook --db NAME.db new', bring this one in with 'bevelbook --db NAME.db merge FILE', and write the "
            f"edition from there. If it means nobody: '{agreeing}'. Nothing was written.",
        )
    return found


def _ask_about_names(copy: EditionCopy, agreeing: str, *, is_agreed: bool, as_json: bool) -> None:
    """Show names that are words as well, and go on only if a person agrees. Raises InputError where nobody can."""
    common = [one for one in copy.names if one.common]
    if not common or is_agreed:
        return
    print_text(
        "These names are words as well, or of two people, or in lower case too. Wherever one stands, it is replaced:",
        err=True,
    )
    for one in common:
        print_text(f"  {one.name}: {counted(one.times, 'place')}, such as {'; '.join(one.samples)}", err=True)
    if as_json or not sys.stdin.isatty():
        raise InputError(
            "names of people may be words as well, and nobody is there to say whether to go on",
            code="names_are_words",
            found=", ".join(one.name for one in common),
            remedy=f"Look whether these places mean the person, then say so: '{agreeing}'.",
        )
    click.confirm("Go on?", abort=True, err=True)


def _lines(written: WrittenEdition, copy: EditionCopy, pages: SiteWritten | None = None) -> Iterator[str]:
    from bevelbook.interchange.export_words import held_in_words, size_in_words

    name = written.file.name
    yield f"Wrote {written.folder} with {name}, {size_in_words(written.byte_count)}: {held_in_words(copy.rows)}."
    if pages is not None:
        yield (
            f"Wrote {counted(pages.pages, 'page')} in {counted(pages.files, 'file')}, "
            f"{size_in_words(pages.size_bytes)}: open {written.folder / 'index.html'}, "
            "or put the folder on any web space."
        )
    if written.replaced:
        yield f"The edition of {written.replaced} that was there is gone."
    named = [one for one in copy.names if one.times]
    if copy.parts.without_people:
        each = ", ".join(f"{one.name} {counted(one.times, 'time')}" for one in named)
        yield f"Names replaced in notes and labels: {each}." if each else "No name stands in a note or a label."
    inside = ", ".join(
        f"{', '.join(one.inside_words)} ({one.name}, {counted(one.inside, 'time')})" for one in copy.names if one.inside
    )
    if inside:
        yield f"Left inside longer words, which you may want to look at: {inside}."
    for like in sorted({one.like for one in copy.to_look_at}):
        seen = [f"{one.text} ({one.where})" for one in copy.to_look_at if one.like == like]
        rest = f" and {len(seen) - _TO_LOOK_AT} more" if len(seen) > _TO_LOOK_AT else ""
        yield f"Looks like {like}, still in it: {'; '.join(seen[:_TO_LOOK_AT])}{rest}."
    if copy.relabelled:
        shown = ", ".join(f"{old} is {new}" for old, new in list(copy.relabelled.items())[:_LABELS])
        more = ", and others" if len(copy.relabelled) > _LABELS else ""
        yield f"Numbered in the order of days, not of import: {shown}{more}."
    if copy.clashes:
        yield (
            f"{counted(copy.clashes, 'record')} changed in two places: what your pages show is in it, the rest is not."
        )
    if copy.differing:
        yield (
            f"{counted(copy.differing, 'fact')} in it differ from your own: they rested on when something was written "
            "down, or on days and people that are left out."
        )
    yield f"Look at it first:  bevelbook --db {in_command(str(written.file))} serve"
    yield "How to publish it, and what it cannot hide, stands in its README.md."


def _as_dict(written: WrittenEdition, copy: EditionCopy) -> dict[str, object]:
    return {
        "folder": str(written.folder),
        "file": str(written.file),
        "bytes": written.byte_count,
        "sha256": written.sha256,
        "replaced": written.replaced,
        "without": sorted(copy.without),
        "rows": dict(copy.rows),
        "names": [one._asdict() for one in copy.names],
        "to_look_at": [one._asdict() for one in copy.to_look_at],
        "relabelled": dict(copy.relabelled),
        "clashes": copy.clashes,
        "facts_that_differ": copy.differing,
        "invented": copy.invented,
    }
