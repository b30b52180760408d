"""``bevelbook labels``."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_json, print_text, say_beside
from bevelbook.cli.files import TO_DASH, FileToWrite, StandardOutput, WriteTo, say_written
from bevelbook.cli.session import Session
from bevelbook.cli.whole_number import WholeNumber
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.late_pattern import late_pattern

if TYPE_CHECKING:
    from bevelbook.labels.pages import LabelPages, LabelsOnSheet
    from bevelbook.labels.sheets import LabelSheet

_ADDRESS: Final = late_pattern(r"https?://([^/\s:@\[\]]+)(?::(\d{1,5}))?/?", re.IGNORECASE)
_LARGEST_PORT: Final = 65535
_NUMERIC: Final = late_pattern(r"[\d.]+|0x[0-9a-f]+", re.IGNORECASE)


@click.command("labels")
@click.argument("what", nargs=-1)
@click.option("--html", type=FileToWrite(), help=f"Write one page that prints; {TO_DASH}")
@click.option("--pdf", type=FileToWrite(), help=f"Write a PDF; {TO_DASH}")
@click.option(
    "--sheet",
    metavar="SIZE",
    help="Width and height of a label in mm, such as 63.5x38.1, or COLUMNSxROWS:WIDTHxHEIGHT:GAPxGAP. Without it plain "
    "paper, to cut.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), help="The paper.  [default: that of the sheet, else a4]")
@click.option("--skip", type=WholeNumber(0, 200), default=0, help="Leave that many labels of the first sheet out.")
@click.option(
    "--address",
    metavar="ADDRESS",
    help="Where phones find the book, for the codes of larger labels, such as http://team.local:8002. "
    "[default: http://NAME.local:8002, with the database's own name]",
)
@click.option(
    "--test", "is_test", is_flag=True, help="Outlines alone, to hold against the light with a sheet of labels."
)
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    what: tuple[str, ...],
    html: WriteTo | None,
    pdf: WriteTo | None,
    sheet: str | None,
    paper: str | None,
    skip: int,
    address: str | None,
    is_test: bool,
    as_json: bool,
) -> int:
    """Print labels for the bag of a diff, for bottles and for parts tins, each with a code for a phone.

    \b
    bevelbook labels --html labels.html
    bevelbook labels rear-a/3 "bottle B2" --pdf labels.pdf --sheet 63.5x38.1 --skip 4
    bevelbook labels "house 7k" --html labels.html
    bevelbook labels bottles tins --pdf labels.pdf --paper letter
    bevelbook labels --test --sheet 63.5x38.1 --pdf test.pdf

    WHAT names builds, diffs (their last build), oils (their bottles in use), bottles or kinds of seal; the words bags,
    bottles and tins mean all of them. Without it: the builds in use. 'bevelbook help labels' has the sheets, and what
    lasts. Ends with 1 when a name has no room.
    """
    if not (html or pdf or as_json):
        raise click.UsageError("Say where they go: --html FILE or --pdf FILE.")
    if as_json and any(isinstance(one, StandardOutput) for one in (html, pdf)):
        raise click.UsageError("Standard output is the labels or the JSON: leave one of them out.")
    if is_test and (what or skip or as_json):
        raise click.UsageError("--test prints the outlines of a sheet: leave names, --skip and --json out.")
    from bevelbook.labels.sheets import sheet_of

    try:
        asked_sheet = sheet_of(sheet, paper)
    except InputError as fault:
        fault.place = Place(column="--sheet")
        raise
    if is_test:
        return _test_sheet(asked_sheet, html, pdf)
    return _labels(session, what, asked_sheet, skip, address, html, pdf, as_json)


def _labels(
    session: Session,
    what: tuple[str, ...],
    sheet: LabelSheet,
    skip: int,
    address: str | None,
    html: WriteTo | None,
    pdf: WriteTo | None,
    as_json: bool,
) -> int:
    from bevelbook.labels.chosen import chosen_labels
    from bevelbook.labels.code import needs_library
    from bevelbook.labels.pages import free_places, label_pages

    _refuse_without_libraries(needs_library(), pdf)
    if skip >= free_places(sheet):
        raise InputError(
            f"a sheet has {counted(free_places(sheet), 'label')}, so that many cannot be left out",
            code="too_many_skipped",
            place=Place(column="--skip"),
            found=str(skip),
            remedy="Leave fewer out, or take a new sheet.",
        )
    where = _address(address, session.path)
    with session.reading() as connection:
        labels = chosen_labels(connection, what)
    made = label_pages(labels, sheet, where, skip=skip, is_invented=session.invented)
    said = list(made.said())
    if made.pages:
        title = f"{counted(sum(1 for _ in made.labels), 'label')} of {session.path.stem}"
        said += _written(made.pages, html, pdf, title, said, made)
    if as_json:
        print_json({**made.as_dict(), "address": where, "said": said})
    else:
        _say(made, where, address, html, pdf)
    for line in said:
        if made.left_out:
            print_text(line, err=True)
        else:
            say_beside(line)
    return 1 if made.left_out else 0


def _say(made: LabelPages, where: str, address: str | None, html: WriteTo | None, pdf: WriteTo | None) -> None:
    """What was written, at which size to print it, and what the codes hold."""
    labels = list(made.labels)
    if labels:
        files = " and ".join(str(one) for one in (html, pdf) if one)
        on = counted(len(made.pages), "sheet")
        say_written(f"Wrote {counted(len(labels), 'label')} on {on} to {files}: {made.sheet.words}.", html, pdf)
        say_written("Print at 100 %, not fitted to the page.", html, pdf)
    if any(one.code.kind == "address" for one in labels):
        found = (
            ""
            if address
            else f" That is the name of this database and the port of 'bevelbook enter'; 'bevelbook labels --address "
            f"{where.rpartition(':')[0]}:8001' is for 'bevelbook serve'."
        )
        say_written(f"The codes lead to {where}/q/NAME.{found}", html, pdf)
    elif labels:
        say_written("The codes hold the names alone: labels of that size have no room for an address.", html, pdf)


def _test_sheet(sheet: LabelSheet, html: WriteTo | None, pdf: WriteTo | None) -> int:
    from bevelbook.labels.pages import outline_page

    _refuse_without_libraries(None, pdf)
    _written((outline_page(sheet),), html, pdf, f"Test sheet: {sheet.size} mm on {sheet.paper.shown}", [], None)
    files = " and ".join(str(one) for one in (html, pdf) if one)
    say_written(f"Wrote the outlines to {files}: {sheet.words}.", html, pdf)
    say_written("Print at 100 % on plain paper, and hold it against the light with a sheet of labels.", html, pdf)
    return 0


def _refuse_without_libraries(missing: InputError | None, pdf: WriteTo | None) -> None:
    from bevelbook.labels.pdf import needs_pdf_library

    missing = missing or (needs_pdf_library() if pdf else None)
    if missing is not None:
        raise missing


def _written(
    pages: tuple[LabelsOnSheet, ...],
    html: WriteTo | None,
    pdf: WriteTo | None,
    title: str,
    said: list[str],
    made: LabelPages | None,
) -> list[str]:
    """Write the files; what more is to be said of the PDF."""
    more: list[str] = []
    if html:
        from bevelbook.labels.html import GENERATOR, labels_page

        page = labels_page(pages, title=title, said=said, with_ruler=made is None)
        _write(html, page.encode(), GENERATOR.encode(), "--html", is_text=True)
    if pdf:
        from bevelbook.labels.pdf import CREATOR, labels_pdf, without_shape

        more = list(without_shape(made.labels)) if made else []
        drawn = labels_pdf(pages, title=title, with_ruler=made is None)
        _write(pdf, drawn, CREATOR.encode(), "--pdf", is_text=False)
    return more


def _write(file: WriteTo, content: bytes, mark: bytes, option: str, *, is_text: bool) -> None:
    """Write to standard output, or over labels that were printed before, but over no other file."""
    from bevelbook.interchange.written_aside import written_aside

    if isinstance(file, StandardOutput):
        out = file.open(is_text=is_text)
        out.write(content)
        out.flush()
        return
    if file.is_file() and mark not in _begin_and_end(file):
        raise InputError(
            "another file with that name already exists",
            code="file_exists",
            place=Place(column=option),
            found=str(file),
            remedy="Choose another name; labels replace only labels.",
        )
    with written_aside(file, replace=True) as stream:
        stream.write(content)


def _begin_and_end(file: Path) -> bytes:
    """The bytes of a file in which the mark of labels would be."""
    try:
        with file.open("rb") as stream:
            content = stream.read(4096)
            stream.seek(0)
            return content if not content.startswith(b"%PDF") else stream.read()
    except OSError as fault:
        raise InputError("the file cannot be read", code="not_readable", found=f"{file}: {fault.strerror}") from fault


def _address(address: str | None, database: Path) -> str:
    """The address of the codes: as it was said, else the name under which the book is announced on a network."""
    if address is None:
        from bevelbook.web.pairing.host_names import address_for_labels

        return address_for_labels(database.stem)
    found = _ADDRESS.fullmatch(address.strip())
    if found is None or not 0 < int(found[2] or 80) <= _LARGEST_PORT:
        raise InputError(
            "a phone cannot open this as an address",
            code="not_an_address",
            place=Place(column="--address"),
            found=address,
            wanted=f"a name and a port up to {_LARGEST_PORT}, such as http://team.local:8002",
            remedy="Give the first part of the address, without a page.",
        )
    if _NUMERIC.fullmatch(found[1]):
        raise InputError(
            "a numeric address is another one in the next network, so no label carries one",
            code="numeric_address",
            place=Place(column="--address"),
            found=address,
            wanted="a name, such as http://team.local:8002",
            remedy="Leave it out, or give the name that 'bevelbook enter' prints.",
        )
    return address.strip().rstrip("/")
