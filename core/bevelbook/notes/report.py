"""What an import found, for people and for programs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from bevelbook.declare.counting import plural
from bevelbook.declare.errors import shown
from bevelbook.declare.in_command import command_of
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.format import wrapped
from bevelbook.display.table import table_lines
from bevelbook.facts.rejected_again import RejectedSince
from bevelbook.notes.changed_alike import changed_alike
from bevelbook.notes.changed_rows import Answer, ChangedRow
from bevelbook.notes.closing import Closed
from bevelbook.notes.new_names import NewName, new_name_lines
from bevelbook.notes.note_columns import COLUMNS
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.notes.questions import FileQuestion
from bevelbook.notes.read_otherwise import KeptAs
from bevelbook.notes.sheets import SheetSeen, not_read_words, sheet_words
from bevelbook.notes.wording import IMPORT_OPTIONS, WHERE_CHANGED, question_lines, settles, typed
from bevelbook.reading.options import ReadingOption

SHOWN_OF_A_KIND: Final = 20
LINES_PER_REASON: Final = 5
COLUMNS_NAMED: Final = 8
"""Columns that were not understood, as many as the headline names."""


def _listed(choices: Sequence[str]) -> str:
    return f"{', '.join(choices[:-1])} or {choices[-1]}"


_CHOICES: Final = {f"{field.name}_unknown": field for field in COLUMNS if field.kind == "choice"}
REASONS: Final = {
    **{code: f"not {_listed(field.choices)}" for code, field in _CHOICES.items()},
    "ambiguous_date": "two readings are possible and nothing in the column decides",
    "ambiguous_number": "one mark with exactly three digits after it and no proof in the file",
    "approximate_value": "about, uncertainty or tolerance mark",
    "cell_not_split": "not one value for each place, in a column that the profile splits",
    "columns_unknown": "no column of oil or masses was understood, though one looks like it",
    "control_character": "a control character in a cell",
    "date_in_label": "a day in place of a name, as a spreadsheet makes it of 3-2",
    "date_incomplete": "no day, no month or no year",
    "date_invalid": "no such day in the calendar",
    "date_unparseable": "not a date in any known form",
    "ditto_mark": "a cell that only says: the same as above",
    "duplicate_header": "two columns with the same name or meaning",
    "dynamic_viscosity_needs_density": "cP, cps, mPa·s, Pa·s are dynamic; cSt needs a density",
    "empty_file": "no bytes",
    "encoding_unknown": "the bytes fit none of the encodings tried",
    "formula_in_cell": "a spreadsheet formula in a number column, or one without a stored value",
    "future_date": "later than today",
    "grip_unknown": "not low, medium or high (or l, m, h, med, mid, hi)",
    "header_changed": "more than one table, with another heading each",
    "looks_changed": "a row of this sheet that was imported before, with another number or remark",
    "line_too_long": "a line longer than any row of notes",
    "malformed_quotes": "text after a closing quote",
    "mass_mismatch": "dry + oil differs from total by more than 0.15 g",
    "missing_required": "date or diff is missing",
    "mixed_encoding": "valid multi-byte UTF-8 and stray single bytes in one file",
    "no_heading": "no row of known headings",
    "no_sheet": "no sheet of that name",
    "name_too_long": "a name of more letters than a name may have",
    "not_a_table": "another kind of file than a table of text or a workbook",
    "not_a_name": "signs without a letter or a digit in place of a name",
    "number_unparseable": "not a number in any known form",
    "option_misfit": "an option names a column that the file does not have, or gives one that it has",
    "out_of_range": "outside the range of sane values, or of what is possible",
    "read_otherwise": "a file that is in the database already, with rows that would come in again, read otherwise",
    "range_not_value": "a range or bound instead of a value",
    "footer": "a text line after the table",
    "several_sheets": "more than one sheet has a heading of notes",
    "spreadsheet_error": "an error word of a spreadsheet",
    "summary_row": "a total or average line",
    "temps_disagree": "two temperatures of the diff, one in its own column and one in that of its place, which differ",
    "temp_unit_unknown": "a temperature without a unit, where the values fit none or other cells name another",
    "time_unparseable": "not a time of day",
    "too_few_fields": "fewer fields than the heading",
    "too_many_fields": "more fields than the heading",
    "total_below_dry": "the filled diff is lighter than the empty one",
    "table_beside": "columns behind an empty one that may be another table",
    "two_line_heading": "a heading in two lines that are not known together",
    "unit_ambiguous": "the unit word has two meanings",
    "unit_not_allowed": "a unit of another quantity",
    "unit_unknown": "the unit word is not known",
    "units_disagree": "two units are said of one number",
    "units_unclear": "a column or row of units, and it is not clear of which numbers",
    "unterminated_quote": "a quote is opened and never closed",
    "viscosity_unit_unknown": "not a unit of viscosity",
    "viscosity_unit_wt": "weight numbers are labels and are never converted",
    "workbook_damaged": "the workbook cannot be opened, or holds what no sheet can",
    "workbook_too_large": "the workbook unpacks to more than the limit",
    "blank": "nothing but delimiters and blanks",
    "outside_lines": f"not among the lines that {IMPORT_OPTIONS[ReadingOption.LINES].name} names",
    "preamble": "text before the heading",
    "repeated_header": "the same heading again",
    "units_row": "a row with the columns' units",
    "sep_hint": "a line that only names the delimiter",
    "end_mark": "the mark that old programs put at the end of a file",
    "changed_later": "a row that was taken, and that a later state of the sheet changed",
}
SKIPPED: Final = (
    "blank",
    "outside_lines",
    "preamble",
    "sep_hint",
    "units_row",
    "repeated_header",
    "summary_row",
    "footer",
    "end_mark",
    "changed_later",
)
"""Reasons for lines that are not rows of notes; all others reject a row or the file."""
ALSO_REJECTED: Final = ("summary_row", "preamble")
"""Reasons for skipped lines that reject a line where it is not certain."""
OF_A_FILE: Final = frozenset(
    {
        "columns_unknown",
        "duplicate_header",
        "empty_file",
        "encoding_unknown",
        "header_changed",
        "line_too_long",
        "mixed_encoding",
        "no_heading",
        "no_sheet",
        "not_a_table",
        "option_misfit",
        "read_otherwise",
        "several_sheets",
        "table_beside",
        "two_line_heading",
        "units_unclear",
        "unterminated_quote",
        "workbook_damaged",
        "workbook_too_large",
    }
)
"""Reasons that reject a whole file; ``missing_required`` does so if a column is missing, else it rejects a row."""
WARNINGS: Final = {
    "encoding_assumed": f"no proof of the encoding; the named one was taken ({settles(ReadingOption.ENCODING)})",
    "encoding_guessed": "the encoding was found from the bytes without a mark",
    "mixed_decimal_marks": "both marks are proven decimal in one file",
    "decimal_mark_by_plausibility": "only one decimal mark keeps all values sane "
    f"({settles(ReadingOption.DECIMAL_MARK)})",
    "unit_by_plausibility": f"only one unit keeps the whole column sane ({settles(ReadingOption.TEMPERATURE_UNIT)})",
    "read_as_sheet": "rejected rows were read with what was said and settled for their sheet, the named one; what is "
    "said now comes first",
    "read_as_before": "the file is in the database already, and was read with what was said of it then; what is said "
    "now comes first",
    "sheet_not_held": "nothing in this database is the sheet of these rejected rows, so they were read by themselves; "
    "say again what was said for the sheet, if anything was",
    "unit_assumed": "nothing in the file names the unit of this temperature column; the named one was taken "
    f"({settles(ReadingOption.TEMPERATURE_UNIT)})",
    "mixed_date_orders": "the dates of one column are in more than one order",
    "date_order_by_future": f"any other order has days later than today ({settles(ReadingOption.DATE_ORDER)})",
    "day_number_1900": f"a spreadsheet day number, counted from 1900 ({typed(ReadingOption.DATE_BASE)} for the other)",
    "day_number_1904": "a spreadsheet day number, counted from 1904",
    "run_number_beside_day": "the number of the run beside the day was taken as its place in the day",
    "weekday_differs": "the weekday written beside the date is not the one of that day; the date was taken",
    "time_dropped": "the time beside the date is left out: it may be when it was typed; a column of times is kept",
    "blank_header_column": "a column without a heading holds data",
    "unknown_column": "a column that the tool does not know; its cells are kept beside the row",
    "hidden_row": "the row is hidden in the workbook; it was taken",
    "hidden_column": "the column is hidden in the workbook; it was taken",
    "struck_through": "a cell is struck through; it was taken",
    "cell_comment": "a cell has a comment, which was not taken",
    "shown_otherwise": "the workbook shows a number otherwise than it holds it (7 as 007); what it holds was taken",
    "cells_beyond": "the row has more cells than can be read; those were left out",
    "meaning_by_cells": f"its cells decided between several meanings ({settles(ReadingOption.COLUMNS)})",
    "units_by_cells": "a column with nothing but units in its cells was taken for the units of that column",
    "headings_not_there": "the profile names these headings (columns), and the file does not have them",
    "map_accepted": "a heading near to a known one, taken as proposed",
    "no_rows": "a heading and nothing below it",
    "duplicate_row": "the same row is earlier in the file; both were taken",
    "same_at_each_place": "the profile does not split this column (columns of split); its cells were taken for each "
    "place",
    "pairs_in_cells": "many cells such as 7k/10k, each taken for one name; values of front and rear are split by a "
    'profile with split: {at: "/", into: [front, rear], columns: [HEADING, HEADING]}',
    "one_name": "spellings that differ only in capitals or blanks: they are one name",
    "similar_names": "names that differ only in marks or look-alike letters are kept apart, in blanks or case they are "
    "one; join what is one: 'bevelbook join'",
    "name_erased": "the file has the name of a person who was erased: it was taken under the word that stands for that "
    "name, and the file itself is not kept",
    "filled_from_above": f"blank cells and ditto marks took the cell above ({typed(ReadingOption.AS_ABOVE)})",
    "fill_unknown": "a build without its masses",
    "scale_unknown": "no scale of that name is recorded; the cell is kept beside the row: 'bevelbook record scale "
    "name=... step=0.01', then 'bevelbook import --again FILE'",
    "bottle_unknown": "a bottle without its oil in the row, and not the mark of one bottle alone; the cell is kept "
    "beside the row",
    "seals_in_words": "what is written of the seals is kept with the build in words, and no seal counts as new by it: "
    "'bevelbook record seal-fitting build=... place=joint condition=new' says which one is",
    "seals_beside": "a word on the seals in a row that makes no build; the cell is kept beside the row: what was found "
    "when the diff was opened goes into 'bevelbook record opening build=... seals=...'",
    "place_unknown": "a temperature by place, and where the diff of the row was is not known; the cell is kept beside "
    "the row: fill in a column position, or 'bevelbook record diff LABEL usual_position=rear', then "
    "'bevelbook import --again FILE'",
    "other_place": "the temperature of a diff at another place than that of the row's; the cell is kept beside the "
    "row: give that diff a row of its own, or 'bevelbook record run LABEL front=DIFF front_temp=...'",
    "words_only": "only a remark or a venue; taken as a run without a count",
    "mass_balance": "dry + oil and total differ by more than the scale explains",
    "oil_beside_target": "the oil put in is further from its target than the window of a fill and the scale explain; "
    "both were taken: 'bevelbook check --past' names the build, the difference and the window",
    "best_lap_not_least": "the best lap is not the least of the laps listed; both were taken, and the best lap counts: "
    "'bevelbook check --past' names the run, both times and the command that corrects it",
    "implausible": f"outside the range of sane values, taken with {typed(ReadingOption.OUT_OF_RANGE)}",
    "lid_on_scale": "total is more than dry + oil by the same amount in many rows: was the lid on the scale?",
}
_OF_A_LINE: Final = late_pattern(r"line \d+|and \d+ more")
"""What follows the code of a finding; a warning of the whole file may have a heading there."""
SETTLED_BY: Final = {
    "ambiguous_number": typed(ReadingOption.DECIMAL_MARK),
    "ambiguous_date": typed(ReadingOption.DATE_ORDER),
    "date_incomplete": f"{typed(ReadingOption.YEAR)}, if only the year is left out",
    "temp_unit_unknown": typed(ReadingOption.TEMPERATURE_UNIT),
    "out_of_range": f"{typed(ReadingOption.OUT_OF_RANGE)}, if it is possible",
    "encoding_unknown": typed(ReadingOption.ENCODING),
    "mixed_encoding": typed(ReadingOption.ENCODING),
    "several_sheets": typed(ReadingOption.SHEET),
    "no_heading": f"{typed(ReadingOption.HEADER_LINE)}, {typed(ReadingOption.COLUMNS)}",
    "header_changed": typed(ReadingOption.LINES),
    "table_beside": typed(ReadingOption.COLUMNS),
    "two_line_heading": typed(ReadingOption.COLUMNS),
    "missing_required": f"{typed(ReadingOption.COLUMNS)}, if the column has another heading; else fill the cell in",
    "columns_unknown": f"{typed(ReadingOption.COLUMNS)}, or {typed(ReadingOption.PROPOSALS)}",
    "looks_changed": WHERE_CHANGED,
    "ditto_mark": f"{typed(ReadingOption.AS_ABOVE)}, or write it out",
    **{
        code: f"a profile with words ({field.name}: {{WORD: ...}}), each one of {_listed(field.choices)}"
        for code, field in _CHOICES.items()
    },
}


@dataclass
class Rejection:
    """One rejected line, for the report."""

    line: int
    reason: str
    column: str | None
    value: str | None
    words: str | None


class SettledChange(NamedTuple):
    """A row that looks like an earlier one, changed, and what was done with it."""

    row: ChangedRow
    answer: Answer


@dataclass
class Report:
    """The outcome of one import, or of a dry run."""

    file: str
    outcome: str = "accepted"
    file_reason: str | None = None
    message: str | None = None
    dry_run: bool = False
    read: int = 0
    accepted: int = 0
    rejected: int = 0
    skipped: int = 0
    added: int = 0
    known: int = 0
    made: dict[str, int] = field(default_factory=dict)
    weighings_only: int = 0
    """Rows that are a weighing and nothing else."""
    new_names: tuple[NewName, ...] = ()
    """The names that no row had before."""
    left: dict[tuple[str, str], int] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    rejections: list[Rejection] = field(default_factory=list)
    rows: list[dict[str, object]] | None = None
    rejects_file: str | None = None
    changed: list[SettledChange] = field(default_factory=list)
    """The rows that look like earlier ones, changed."""
    since: RejectedSince = field(default_factory=RejectedSince)
    """What became of rejected rows that were rejected here before."""
    closed: tuple[Closed, ...] = ()
    """The rejected rows of other files that this one brought in corrected."""
    placed: PlacedAgain | None = None
    """What placing the rows of the touched diffs again changed; None if nothing was placed again."""
    note_file: str | None = None
    """The id of the kept file; None if nothing was written."""
    columns: dict[str, str] = field(default_factory=dict)
    settled_by_option: set[str] = field(default_factory=set)
    """The reasons of cells that an option or a profile would settle; others with the same reason may be impossible."""
    sheets: tuple[SheetSeen, ...] = ()
    """All sheets of a workbook, with which one was taken."""
    not_understood: tuple[str, ...] = ()
    """The headings of columns with cells that did not come in, since nobody said what they are."""
    not_looked_at: int = 0
    """How many more such columns there are."""
    questions: list[FileQuestion] = field(default_factory=list)
    """What a person may answer so that more of the file comes in, or with less assumed."""
    is_part: bool = False
    """Whether the file came in in parts, and this is the report of one."""
    kept_as: KeptAs | None = None
    """How the file is kept, if it was in the database before."""
    command: str = ""
    """The import as it was typed, for what to type with an answer."""
    language: str = ""
    """The language whose profile knows the headings of a refused file."""

    @property
    def exit_code(self) -> int:
        return 2 if self.outcome == "rejected" else 1 if self.rejected else 0

    def as_dict(self) -> dict[str, object]:
        """The report for programs."""
        found: dict[str, object] = {
            "file": self.file,
            "outcome": self.outcome,
            "file_reason": self.file_reason,
            "message": self.message,
            "dry_run": self.dry_run,
            "read": self.read,
            "accepted": self.accepted,
            "rejected": self.rejected,
            "skipped": self.skipped,
            "added": self.added,
            "known": self.known,
            "made": self.made,
            "weighings_only": self.weighings_only,
            "new_names": [one._asdict() for one in self.new_names],
            "looks_changed": [{**one.row.as_dict(), "taken_as": one.answer} for one in self.changed],
            "closed_since": self.since.closed,
            "rejected_again": [one._asdict() for one in self.since.elsewhere],
            "closes": [one._asdict() for one in self.closed],
            **(self.placed or PlacedAgain()).as_dict(),
            "rejected_by_reason": self.reasons("rejected"),
            "skipped_by_reason": self.reasons("skipped"),
            "warnings": self.warnings,
            "rejects": [one.__dict__ for one in self.rejections],
            "rejects_file": self.rejects_file,
            "columns": self.columns,
            "sheets": [one._asdict() for one in self.sheets],
            "sheets_not_read": [one.name for one in self.sheets if one.is_left],
            "not_understood": self.not_understood,
            "not_understood_count": len(self.not_understood) + self.not_looked_at,
            "questions": [one.as_dict() for one in self.questions],
        }
        if self.rows is not None:
            found["rows"] = self.rows
        return found

    def reasons(self, status: str) -> dict[str, int]:
        """How many lines were left out for each reason, those ``rejected`` or those ``skipped``."""
        return {reason: count for (one, reason), count in self.left.items() if one == status}

    def changed_lines(self) -> Iterator[str]:
        """The rows that changed an earlier one, for people."""
        taken = [one.row for one in self.changed if one.answer == "change"]
        if taken:
            yield f"  {_counted(len(taken), 'rows')} changed an earlier one:"
        for one in taken[:SHOWN_OF_A_KIND]:
            yield f"    line {one.line} {one.words()}"
        if len(taken) > SHOWN_OF_A_KIND:
            yield f"    and {len(taken) - SHOWN_OF_A_KIND} more"

    def made_words(self) -> Iterator[str]:
        """What the new rows make, counted: ``4 builds``."""
        for word, count in self.made.items():
            only = self.weighings_only if word == "weighings" else 0
            said = _counted(count, word)
            yield said if not only else f"{said} only" if only == count else f"{said} ({only} of them only that)"

    def _rejected_lines(self) -> Iterator[str]:
        counts = self.reasons("rejected")
        printed: Counter[str] = Counter()
        alike = changed_alike([one.row for one in self.changed if one.answer == "reject"])
        if alike:
            yield f"    {alike}."
        for one in self.rejections:
            printed[one.reason] += 1
            if printed[one.reason] <= LINES_PER_REASON:
                where = f"line {one.line}" + (f", {one.column}" if one.column else "")
                value = f" {shown(one.value)}" if one.value else ""
                yield f"    {where}{value}: {one.reason}. {one.words or ''}".rstrip()
            elif printed[one.reason] == LINES_PER_REASON + 1:
                yield f"    and {counts[one.reason] - LINES_PER_REASON} more with {one.reason}"

    def warning_rows(self) -> Iterator[tuple[str, str]]:
        """One row for each warning of the file, and one for each kind of finding with its lines."""
        findings: dict[str, list[str]] = {}
        for one in self.warnings:
            code, _, detail = one.partition(":")
            if _OF_A_LINE.fullmatch(detail) and code in WARNINGS:
                findings.setdefault(code, []).append(detail.removeprefix("line "))
            else:
                yield one, WARNINGS.get(code, "")
        for code, lines in findings.items():
            more = lines.pop() if lines[-1].startswith("and ") else ""
            if len(lines) > LINES_PER_REASON:
                counted = int(more.split()[1]) if more else 0
                more = f"and {counted + len(lines) - LINES_PER_REASON} more"
            where = ", ".join(lines[:LINES_PER_REASON]) + (f" {more}" if more else "")
            yield code, f"{WARNINGS[code]} ({plural(len(lines), 'line')} {where})"

    def _question_lines(self) -> Iterator[str]:
        yield from (f"  {line}" for one in self.questions for line in question_lines(one, self.command))
        if any(one.option is ReadingOption.COLUMNS and one.about for one in self.questions):
            yield "  What else a column may hold: 'bevelbook help import' lists all fields."

    def lines(self) -> Iterator[str]:
        """The report for people, line by line."""
        if self.outcome == "rejected":
            yield f"{self.file}: not imported ({self.file_reason}). Nothing was stored."
            if self.message:
                yield self.message
            yield from self._question_lines()
            return
        made = ", ".join(self.made_words()) or "no records"
        rows = _counted(self.accepted, "rows")
        others = f"{self.rejected} rejected, {self.skipped} skipped"
        if self.not_understood:
            columns = ", ".join(map(shown, self.not_understood[:COLUMNS_NAMED]))
            count = len(self.not_understood) + self.not_looked_at
            if count > COLUMNS_NAMED:
                columns += f" and {count - COLUMNS_NAMED} more"
            word = plural(len(self.not_understood), "column")
            yield f"{self.file}: {rows} taken without the {word} {columns}, not understood; {others}."
        else:
            yield f"{self.file}: {rows} accepted, {others}."
        yield f"  {_counted(self.added, 'rows')} new: {made}" + (f"; {self.known} known already" if self.known else "")
        if self.dry_run:
            yield from (f"  {line}" for line in new_name_lines(self.new_names))
        if len(self.sheets) > 1:
            yield f"  Sheets: {sheet_words(self.sheets)}."
        if not_read := not_read_words(self.sheets):
            yield from wrapped(not_read, indent="  ")
        yield from self.changed_lines()
        yield from (f"  {one.line()}" for one in self.closed)
        if self.placed:
            yield from (f"  {line}" for line in self.placed.lines())
        for status, count in (("rejected", self.rejected), ("skipped", self.skipped)):
            if count:
                yield f"  {count} {status}:"
                counts = self.reasons(status).items()
                rows_of_status = [(str(found), code, REASONS.get(code, "")) for code, found in counts]
                yield from table_lines(rows_of_status, right={0}, indent="    ")
        yield from self._rejected_lines()
        if self.since.closed:
            closed = _counted(self.since.closed, "rejected rows")
            yield f"  {closed} {'is' if self.since.closed == 1 else 'are'} closed by another file."
        yield from (f"  {line}" for line in self.since.lines())
        if self.warnings:
            yield "  Worth a look:"
            yield from table_lines(self.warning_rows(), indent="    ")
        for code in self.reasons("rejected"):
            if code in self.settled_by_option:
                yield f"  To settle {code}: {SETTLED_BY[code]}"
        yield from self._question_lines()
        if self.rejects_file == "-":
            yield "  Rejected rows went to standard output: correct them, then 'bevelbook import FILE' brings them in."
        elif self.rejects_file:
            left = self.rejected - self.since.closed - sum(one.rows for one in self.since.elsewhere)
            if left <= 0:
                yield f"  Rejected rows are in {self.rejects_file}: nothing is left to correct there."
            else:
                which = "them" if left == self.rejected else f"the {left} not closed yet"
                yield f"  Rejected rows are in {self.rejects_file}: correct {which} there, then bring that file in:"
                yield f"    {command_of('import', self.rejects_file)}"
        if self.dry_run:
            yield "  A dry run: nothing was written."


def grouped_findings(findings: Iterable[tuple[int, str]], counts: Mapping[str, int]) -> list[str]:
    """``CODE:line N`` for up to 20 of a kind, then the number of the others."""
    by_code: dict[str, list[str]] = {}
    for line, code in findings:
        texts = by_code.setdefault(code, [])
        if len(texts) < SHOWN_OF_A_KIND:
            texts.append(f"{code}:line {line}")
    return [
        text
        for code, texts in by_code.items()
        for text in (*texts, *([f"{code}:and {counts[code] - len(texts)} more"] if counts[code] > len(texts) else []))
    ]


def _counted(count: int, plural: str) -> str:
    return f"{count:,} {plural if count != 1 else plural.removesuffix('s')}"
