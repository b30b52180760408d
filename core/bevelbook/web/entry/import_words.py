"""What an import found, as a page says it: without the options by which the command line settles things."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.errors import shown
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.begun import begun
from bevelbook.notes.changed_alike import changed_alike
from bevelbook.notes.new_names import new_name_lines
from bevelbook.notes.note_columns import BY_NAME, NAMES
from bevelbook.notes.report import COLUMNS_NAMED, REASONS, Report
from bevelbook.notes.sheets import not_read_words
from bevelbook.notes.wording import without_options
from bevelbook.web.entry.import_look import PartLookedAt

_SHOWN_REJECTED: Final = 5
_QUOTED: Final = late_pattern(r"'bevelbook [^']*'")
_WITH_OPTION: Final = late_pattern(r"--[a-z]")
_IN_BRACKETS: Final = late_pattern(r"\s*\([^()]*--[a-z][^()]*\)")
_WAY_OUT: Final = late_pattern(r"(, or|,| or) [^,.:;]*:? ?--[a-z][^;.]*(\(in a profile[^()]*\))?")
_SENTENCE: Final = late_pattern(r"(?<=[.?!;])\s+")
_NAME: Final = late_pattern(rf"\b(?:{'|'.join(name for name in NAMES if '_' in name)})\b")


class PartWords(NamedTuple):
    """A file, or a part of it, in words: how many rows, what they make, those rejected one by one and all by their
    reason, those skipped by theirs, and what is worth a look; ``also`` is whatever else came of it."""

    name: str
    counts: str
    makes: str
    rejected: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    skipped: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    also: tuple[str, ...] = ()
    looked_at: PartLookedAt | None = None
    note_file: str = ""
    rejected_count: int = 0


def on_page(words: str) -> str:
    """Words of an import without what a person types on a command line, and with the words of its columns; a whole
    command in quotes stays.

    >>> on_page("the encoding was assumed (--encoding settles it)")
    'the encoding was assumed'
    >>> on_page("Correct it, or take it as it is: --allow-out-of-range (in a profile, allow_out_of_range).")
    'Correct it.'
    >>> on_page("two readings. Say the order: --date-order dmy or mdy (in a profile, date_order).")
    'two readings.'
    >>> on_page("2 rows have another result_note")
    '2 rows have another result note'
    """
    kept: list[str] = _QUOTED.findall(words)
    plain = _IN_BRACKETS.sub("", without_options(_QUOTED.sub("\0", words)))
    sentences = [_WAY_OUT.sub("", one) for one in _SENTENCE.split(plain)]
    left = " ".join(one for one in sentences if not _WITH_OPTION.search(one))
    left = _NAME.sub(lambda found: BY_NAME[found[0]].words, left)
    for one in kept:
        left = left.replace("\0", one, 1)
    return left.strip()


def words_of_part(report: Report, looked_at: PartLookedAt | None = None, also: Sequence[str] = ()) -> PartWords:
    """A report in words; ``looked_at`` where the rows are not stored yet, ``also`` what came of them where they are."""
    is_new = looked_at is not None
    taken = f"{_many(report.accepted)} to bring in" if is_new else f"{_many(report.accepted)} came in"
    read = f"{counted(report.read, 'line')} read: " if report.read else ""
    others = f"{_many(report.rejected)} rejected, {_many(report.skipped)} skipped"
    made = ", ".join(report.made_words()) or "no records"
    known = f"; {_many(report.known)} known already" if report.known else ""
    return PartWords(
        report.file,
        f"{read}{taken}, {others}.",
        f"{_many(report.added)} new: {made}{known}.",
        tuple(_rejected(report)),
        tuple(_reasons(report, "rejected")),
        tuple(_reasons(report, "skipped")),
        tuple(_warnings(report)),
        (*(new_name_lines(report.new_names) if is_new else ()), *_also(report), *also),
        looked_at,
        report.note_file or "",
        report.rejected,
    )


def refused_words(report: Report) -> str:
    """Why a file cannot be read, and what to do."""
    reason = f"{REASONS.get(report.file_reason or '', 'it cannot be read')}."
    words = on_page(report.message or "") or reason
    return begun(words)


def _many(count: int) -> str:
    return f"{count:,}"


def _rejected(report: Report) -> Iterator[str]:
    for one in report.rejections[:_SHOWN_REJECTED]:
        column = BY_NAME[one.column].words if one.column in BY_NAME else one.column
        where = f"Line {one.line}" + (f", {column}" if column else "")
        value = f" {shown(one.value)}" if one.value else ""
        words = on_page(one.words or "") or f"{REASONS.get(one.reason, one.reason)}."
        yield f"{where}{value}: {words}"


def _reasons(report: Report, status: str) -> Iterator[str]:
    for reason, count in report.reasons(status).items():
        yield f"{_many(count)}: {on_page(REASONS.get(reason, reason))}"


def _warnings(report: Report) -> Iterator[str]:
    for code, words in report.warning_rows():
        _, _, detail = code.partition(":")
        said = on_page(words) or code.partition(":")[0].replace("_", " ")
        yield f"{detail}: {said}" if detail else begun(said)


def _also(report: Report) -> Iterator[str]:
    if not_read := not_read_words(report.sheets, by_command=False):
        yield not_read
    if report.not_understood:
        named = ", ".join(map(shown, report.not_understood[:COLUMNS_NAMED]))
        more = len(report.not_understood) + report.not_looked_at - COLUMNS_NAMED
        and_more = f" and {more} more" if more > 0 else ""
        yield f"Not understood, and kept beside the rows: the columns {named}{and_more}."
    yield from (on_page(line.strip()) for line in report.changed_lines())
    alike = changed_alike([one.row for one in report.changed if one.answer == "reject"])
    if alike:
        yield f"{on_page(alike)}."
    yield from (f"{begun(one.line())}." for one in report.closed)
    if report.placed:
        yield from report.placed.lines()
    if report.since.closed:
        yield f"{counted(report.since.closed, 'rejected row')} came in corrected by another file since."
    yield from report.since.lines()
