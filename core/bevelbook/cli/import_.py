"""``bevelbook import``."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import chain
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Final, NamedTuple

import click

from bevelbook.cli import print_json, print_text, report_failed
from bevelbook.cli.copied_commands import with_database
from bevelbook.cli.files import (
    DASH,
    FROM_DASH,
    TO_DASH,
    FileToRead,
    FileToWrite,
    ReadFrom,
    StandardInput,
    StandardOutput,
    WriteTo,
    text_into,
)
from bevelbook.cli.given_once import GivenOnce
from bevelbook.cli.how_much_is_said import is_quiet
from bevelbook.cli.session import Session
from bevelbook.cli.whole_number import WholeNumber
from bevelbook.declare.errors import InputError, Place, UnknownNameError
from bevelbook.declare.in_command import in_command

if TYPE_CHECKING:
    from bevelbook.cli.import_questions import ImportQuestions
    from bevelbook.notes.importing import ReadFile
    from bevelbook.notes.read_rows import Progress
    from bevelbook.notes.report import Report
    from bevelbook.notes.settings import Settings
    from bevelbook.saving.imported import AfterImport


STANDARD_INPUT: Final = "standard-input"
"""What a file from standard input is called unless it is given a name."""


@click.command("import", cls=GivenOnce)
@click.argument("file", required=False, type=FileToRead())
@click.option("--name", metavar="NAME", help="What the file is called, where it comes by -; such as season.csv.")
@click.option("--dry-run", is_flag=True, help="Say what would come of it, and write nothing.")
@click.option("--decimal", type=click.Choice([".", ","]), help="The decimal mark, where the file does not prove it.")
@click.option("--date-order", type=click.Choice(["dmy", "mdy", "ymd"]), help="The order of dates such as 03/04/2026.")
@click.option("--temp-unit", type=click.Choice(["C", "F", "K"]), help="Unit of temperatures that say none.")
@click.option("--encoding", help="Encoding of the file, such as cp1252.")
@click.option("--date-base", type=click.Choice(["1900", "1904"]), help="What day numbers of a spreadsheet count from.")
@click.option("--year", type=WholeNumber(min=1980, max=2079), metavar="YEAR", help="Year of dates that leave it out.")
@click.option("--delimiter", help="The sign between cells, or comma, semicolon, tab, pipe.")
@click.option("--header-line", type=WholeNumber(min=1), metavar="N", help="The line that holds the headings.")
@click.option("--lines", metavar="A-B", help="Read only these lines of the file, heading included.")
@click.option("--sheet", metavar="NAME", help="The sheet of a workbook, or all, where more than one has notes.")
@click.option("--sheet-as-diff", is_flag=True, help="The name of a sheet is the diff of its rows.")
@click.option("--map", "maps", multiple=True, metavar="HEADING=FIELD", help="What a heading means; FIELD or ignore.")
@click.option("--set", "sets", multiple=True, metavar="COLUMN=VALUE", help="One value for the whole file: diff=K-01.")
@click.option("--as-above", metavar="COLUMNS", help="Where a blank cell means the one above: date,builder,diff.")
@click.option("--accept-map", is_flag=True, help="Take what is proposed for headings near to known ones.")
@click.option("--transpose", is_flag=True, help="Each column of the file is a row of notes: one column a race day.")
@click.option(
    "--profile",
    type=FileToRead(),
    help=f"A profile: a file, or the name of one that is known ('bevelbook help import'); {FROM_DASH}",
)
@click.option(
    "--no-profile", is_flag=True, help="Without the profile beside the file, which a terminal's answers make."
)
@click.option("--write-profile", type=FileToWrite(), help=f"Write a profile for this file's headings; {TO_DASH}")
@click.option("--allow-out-of-range", is_flag=True, help="Take values outside the range of sane ones.")
@click.option("--rejects", type=FileToWrite(), help=f"Where to write the rejected rows [beside the file]; {TO_DASH}")
@click.option("--no-rejects", is_flag=True, help="Do not write the rejected rows to a file.")
@click.option("--again", metavar="NAME", help="Read a kept file again, by its name or hash; shows what would change.")
@click.option("--yes", is_flag=True, help="Ask nothing: take what is certain; with --again, change it.")
@click.option("--take-changes", is_flag=True, help="Rows that look like an earlier one, changed: change that one.")
@click.option("--as-new", is_flag=True, help="Rows that look like an earlier one, changed: take them as new rows.")
@click.option("--template", is_flag=True, help="Print an empty sheet with the canonical headings.")
@click.option("--rows", "want_rows", is_flag=True, help="With --json: every row with its outcome.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, /, file: ReadFrom | None, as_json: bool, **given: Any) -> int:
    """Bring old notes in from a CSV file or a workbook.

    Nothing is guessed silently: a reading is taken only where it is the only one that can be right. Every rejected
    row is kept with its reason, and written to a file beside the input: correct it there and import that file. The same
    file twice adds nothing.

    On a terminal what the file leaves open is asked, one question at a time; then the first rows are shown, and they
    come in once you say yes. The answers are kept beside the file, season.profile.yaml for season.csv, and the next
    import goes by them. A script gets the commands that answer.

    With - the file comes from standard input, a workbook too: nothing is asked, and its rejected rows go into the
    folder that you are in.

    Ends with 0 when all rows came in, 1 when rows were rejected, a plugin failed or you said no, 2 when the file was
    rejected.
    """
    if given["template"]:
        from bevelbook.notes.note_columns import NAMES

        print_text(",".join(NAMES))
        return 0
    settings = _settings(session, given)
    if given["again"]:
        from bevelbook.cli.changed_rows import deciding
        from bevelbook.cli.import_again import read_again

        dry = given["dry_run"]
        decide = deciding(given["take_changes"], given["as_new"], may_ask=not (as_json or dry))
        return read_again(session, given["again"], settings, as_json=as_json, yes=given["yes"], dry=dry, decide=decide)
    if file is None:
        raise click.UsageError("Name a file of notes, or use --template or --again.")
    notes = _notes_in(file, given["name"])
    if given["write_profile"]:
        return _write_profile(notes, settings, given["write_profile"])
    if as_json and isinstance(given["rejects"], StandardOutput):
        raise click.UsageError("Standard output is the rejected rows or the JSON: leave one of them out.")
    is_alone = bool(given["profile"] or given["no_profile"] or isinstance(file, StandardInput))
    beside = None if is_alone else _beside(session, notes.path)
    settings = settings if beside is None else settings.over(beside[1])
    may_ask = sys.stdin.isatty() and not (as_json or given["yes"] or isinstance(file, StandardInput))
    questions = None
    if may_ask:
        from bevelbook.cli.import_questions import ImportQuestions

        has_profile = given["profile"] is not None or beside is not None
        questions = ImportQuestions(settings, only_needed=has_profile, dry=given["dry_run"])
    return _import(session, notes, settings, given, as_json, questions, beside[0] if beside else None)


class _Notes(NamedTuple):
    """A file of notes: where it is read from, and its path; one from standard input has that of a file in this
    folder."""

    source: ReadFrom
    path: Path

    @property
    def typed(self) -> Path:
        """Its name as it was typed."""
        return self.path if isinstance(self.source, Path) else Path(DASH)


def _notes_in(file: ReadFrom, name: str | None) -> _Notes:
    """The file of notes. Raises InputError for one that is not there, and for a name with a folder in it."""
    from bevelbook.notes.source import check_file

    if isinstance(file, Path):
        if name is not None:
            raise click.UsageError("--name goes with -: a file has its own name.")
        check_file(file)
        return _Notes(file, file)
    path = Path(name or STANDARD_INPUT)
    if path.name != str(path):
        raise InputError(
            "a name is wanted, without a folder",
            code="name_with_folder",
            place=Place(column="--name"),
            found=name,
            wanted="a name such as season.csv",
        )
    return _Notes(file, path)


def _beside(session: Session, file: Path) -> tuple[Path, Settings] | None:
    """The profile beside the file, which is named, with its settings; None if there is none."""
    from bevelbook.notes.profile_beside import found_beside, settings_beside

    found = found_beside(file)
    if found is None:
        return None
    settings = settings_beside(file, found).of_a_team()
    session.notice(f"{file.name} is read with {found.name} (--no-profile: without)")
    return found, settings


def _import(
    session: Session,
    notes: _Notes,
    settings: Settings,
    given: dict[str, Any],
    as_json: bool,
    questions: ImportQuestions | None,
    profile_beside: Path | None,
) -> int:
    from bevelbook.cli.changed_rows import deciding
    from bevelbook.cli.import_again import typed_again
    from bevelbook.notes.importing import look_up_names
    from bevelbook.notes.importing_parts import import_all
    from bevelbook.notes.read_otherwise import READ_OTHERWISE, kept_as
    from bevelbook.notes.rejects import rejects_path
    from bevelbook.notes.source import reading_faults
    from bevelbook.saving.imported import AfterImport

    dry, file = given["dry_run"], notes.path
    to_output = isinstance(given["rejects"], StandardOutput)

    def rejects(part: str) -> Path | IO[bytes]:
        if isinstance(given["rejects"], StandardOutput):
            return given["rejects"].open(is_text=True)
        return given["rejects"] or rejects_path(file, part)

    def read(settings: Settings) -> list[Report]:
        reading = (opened, file.name, connection, session.path, settings)

        def before_writing(parts: Sequence[ReadFile]) -> None:
            if progress is not None:
                progress("asking", 0, 0)
            if questions is not None:
                questions.look_before_writing(parts)
                if questions.has_asked:
                    look_up_names(parts, connection, session.by)
                    questions.ask_for_them(parts)

        more: dict[str, Any] = {
            "want_rows": given["want_rows"],
            "by": session.by,
            "decide": deciding(given["take_changes"], given["as_new"], may_ask=not (as_json or dry or given["yes"])),
            "before_writing": before_writing,
        }
        with _bar() as progress:
            if dry:
                return import_all(*reading, **more, dry_run=True, progress=progress)
            more |= {"asked": session.asked, "rejects": None if given["no_rejects"] else rejects}
            more["also"] = after.work_out
            return import_all(*reading, **more, progress=progress)

    with _connection(session, dry) as connection, reading_faults(file), notes.source.open("rb") as opened:
        after = AfterImport(connection, session.registry, session.by)
        reports = read(settings) if questions is None else _read_with_answers(read, questions)
        if not reports:
            print_text("Nothing was stored.")
            return 1
        for report in reports:
            report.command = with_database(f"bevelbook {session.asked}")
            kept = report.kept_as or (kept_as(connection, report.note_file) if report.note_file else None)
            if kept is not None:
                report.command = with_database(typed_again(session.asked, notes.typed, kept.name, profile_beside))
            if report.file_reason == READ_OTHERWISE:
                report.message = f"{report.message}\n  {report.command}"
            if report.note_file and (report.added or report.changed):
                after.look(report.note_file)
    if as_json:
        found = [_as_dict(one, after) for one in reports]
        are_parts = reports[0].is_part and reports[0].outcome != "rejected"
        print_json(({"parts": found} if are_parts else found[0]) | session.noticed())
    else:
        for report in reports:
            for line in chain(report.lines(), after.lines(report.note_file)):
                print_text(line, err=to_output)
    is_refused = reports[0].outcome == "rejected"
    if questions is not None and not dry and (kept := reports[0].kept_as) and reports[0].file_reason == READ_OTHERWISE:
        code = _change_kept(session, kept.id, questions, given)
        if questions.answered:
            _keep_answers(file, questions)
        return code
    if questions is not None and questions.answered and not (is_refused or dry):
        _keep_answers(file, questions)
    return max(*(one.exit_code for one in reports), *map(report_failed, [None, *after.upkeep.values()]))


def _change_kept(session: Session, kept: str, questions: ImportQuestions, given: dict[str, Any]) -> int:
    """Ask whether the kept file is to be read again with these settings, and do it. Raises Abort for a no."""
    from bevelbook.cli.changed_rows import deciding
    from bevelbook.cli.import_again import read_again

    return read_again(
        session,
        kept,
        questions.settings,
        as_json=False,
        yes=False,
        dry=False,
        decide=deciding(given["take_changes"], given["as_new"], may_ask=True),
        question="Read it again with these answers, and change its rows?",
    )


def _as_dict(report: Report, after: AfterImport) -> dict[str, object]:
    more: dict[str, object] = {}
    upkeep, news = after.upkeep.get(report.note_file or ""), after.news.get(report.note_file or "")
    if upkeep and news:
        more = {"kept": upkeep.counts(), "weighings_say": news.as_dict(), "plugin_faults": upkeep.faults()}
    return report.as_dict() | more


def _read_with_answers(read: Callable[[Settings], list[Report]], questions: ImportQuestions) -> list[Report]:
    """Read the file until nothing is left to ask; no reports where the person does not want the rows."""
    from bevelbook.cli.import_questions import NotWantedError
    from bevelbook.notes.file_answers import StillOpen, read_or_ask

    try:
        while True:
            found = read_or_ask(read, questions)
            if not isinstance(found, StillOpen):
                return found
            questions.ask(found)
    except NotWantedError:
        return []


def _keep_answers(file: Path, questions: ImportQuestions) -> None:
    """Write the profile beside the file that makes the next import silent."""
    from bevelbook.notes.profile_beside import profile_beside, write_beside

    try:
        written = write_beside(file, questions.settings, questions.headings)
    except OSError as fault:
        print_text(f"The answers could not be written to {profile_beside(file)}: {fault.strerror or fault}", err=True)
        return
    if written == profile_beside(file):
        print_text(f"Wrote the answers to {written}: the next import of {file.name} goes by them.")
    else:
        print_text(
            f"Wrote the answers to {written}, since {profile_beside(file).name} already exists: --profile {written}"
        )


@contextmanager
def _connection(session: Session, dry: bool) -> Iterator[sqlite3.Connection]:
    """A database to write to; for a dry run one to read from, or an empty one in memory where there is none."""
    from bevelbook.notes.staging import empty_database
    from bevelbook.store.opened_to_read import open_for_reading
    from bevelbook.store.sqlite_errors import in_words

    if not dry:
        connection = session.open_for_writing()
    elif session.path.exists():
        connection = open_for_reading(session.path, untouched=True)
    else:
        connection = empty_database()
    try:
        with in_words(session.path):
            yield connection
    finally:
        connection.close()


def _settings(session: Session, given: dict[str, Any]) -> Settings:
    from bevelbook.notes.known_profiles import known_profiles, profile_called
    from bevelbook.notes.line_range import line_range
    from bevelbook.notes.profiles import delimiter_called
    from bevelbook.notes.settings import Settings

    pairs = []
    for one in given["maps"]:
        heading, sign, name = one.rpartition("=")
        if not sign or not heading.strip():
            raise InputError(
                "a map needs a heading and a field",
                code="bad_map",
                place=Place(column="--map"),
                found=one,
                wanted="HEADING=FIELD",
            )
        pairs.append((heading, name))
    place = Place(column="--delimiter")
    lines = str(line_range(given["lines"], Place(column="--lines"))) if given["lines"] else None
    columns = _own_columns(pairs)
    named = tuple(heading.strip() for heading, _ in pairs)
    settings = Settings(
        decimal=given["decimal"],
        date_order=given["date_order"],
        temp_unit=given["temp_unit"],
        encoding=given["encoding"],
        date_base=int(given["date_base"]) if given["date_base"] else None,
        delimiter=delimiter_called(given["delimiter"], place) if given["delimiter"] else None,
        header_line=given["header_line"],
        year=given["year"],
        lines=lines,
        allow_out_of_range=given["allow_out_of_range"],
        sheet=given["sheet"],
        sheet_as_diff=given["sheet_as_diff"],
        accept_map=given["accept_map"],
        columns=columns,
        named_headings=named,
        constants=_constants(given["sets"]),
        as_above=_names(given["as_above"], "--as-above"),
        transpose=given["transpose"],
    )
    if not given["profile"]:
        return settings
    return settings.over(profile_called(given["profile"], lambda: known_profiles(session.registry)))


def _constants(sets: Sequence[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for one in sets:
        name, _, value = one.partition("=")
        if not name.strip() or "," in name or not value.strip():
            raise InputError(
                "a column and its value are needed",
                code="bad_set",
                place=Place(column="--set"),
                found=one,
                wanted="COLUMN=VALUE, such as diff=K-01",
            )
        (column,) = _names(name, "--set")
        if found.setdefault(column, value.strip()) != value.strip():
            raise _said_twice("--set", "a column", f"{column}={found[column]}, {column}={value.strip()}")
    return found


def _names(text: str | None, option: str) -> tuple[str, ...]:
    """The canonical names of columns that are joined by commas."""
    from bevelbook.notes.headings import column_called

    try:
        return tuple(column_called(name) for name in text.split(",")) if text else ()
    except UnknownNameError as fault:
        fault.place = Place(column=option)
        raise


def _own_columns(pairs: list[tuple[str, str]]) -> dict[str, str]:
    from bevelbook.notes.headings import own_map

    found: dict[str, str] = {}
    try:
        for pair in pairs:
            ((heading, name),) = own_map([pair]).items()
            if found.setdefault(heading, name) != name:
                raise _said_twice("--map", "a heading", f"{pair[0]}={found[heading]}, {pair[0]}={name}")
    except UnknownNameError as fault:
        fault.place = Place(column="--map")
        raise
    return found


def _said_twice(option: str, what: str, found: str) -> InputError:
    return InputError(
        f"{what} is given two meanings",
        code="given_twice",
        place=Place(column=option),
        found=found,
        remedy="Leave one of them out.",
    )


def _write_profile(notes: _Notes, settings: Settings, target: WriteTo) -> int:
    from bevelbook.notes.source import profile_of, reading_faults

    with reading_faults(notes.path), notes.source.open("rb") as opened:
        text = profile_of(opened, notes.path.name, settings)
    if isinstance(target, StandardOutput):
        text_into(target, text)
        return 0
    try:
        with target.open("x", encoding="utf-8") as written:
            written.write(text)
    except FileExistsError as fault:
        raise InputError(
            "a file with that name already exists",
            code="file_exists",
            place=Place(str(target)),
            remedy="Choose another name for the profile.",
        ) from fault
    except (OSError, ValueError) as fault:
        raise InputError(
            "the profile cannot be written",
            code="not_writable",
            place=Place(str(target)),
            found=getattr(fault, "strerror", None) or str(fault),
            remedy="Name a file in a folder that exists and that you may write to.",
        ) from fault
    print_text(
        f"Wrote {target}. Fill in what the headings mean, then: "
        f"bevelbook import --profile {in_command(str(target))} {in_command(str(notes.typed))}"
    )
    return 0


@contextmanager
def _bar() -> Iterator[Progress | None]:
    """A progress bar on a terminal, once the work takes longer than a second."""
    if is_quiet() or not sys.stderr.isatty():
        yield None
        return
    from time import monotonic

    started = monotonic()
    state: dict[str, Any] = {}

    def show(what: str, done: int, whole: int) -> None:
        if state.get("what") != what:
            close()
        if monotonic() - started < 1 or not whole:
            return
        if "bar" not in state:
            state["what"] = what
            state["bar"] = click.progressbar(length=whole, label=what.capitalize(), file=sys.stderr)
            state["bar"].__enter__()
            state["done"] = 0
        bar = state["bar"]
        bar.length = whole
        bar.update(min(done, bar.length) - state["done"])
        state["done"] = min(done, bar.length)

    def close() -> None:
        if "bar" in state:
            state.pop("bar").__exit__(None, None, None)

    try:
        yield show
    finally:
        close()
