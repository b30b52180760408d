"""What the tool itself keeps: entries, calculations, imported files with their rejected lines, pictures,
clashes of a merge, what was erased."""

from __future__ import annotations

from bevelbook.declare.fields import choice, record, reference, text, whole
from bevelbook.declare.vocabulary import VERDICTS, YES_NO


@record
class NoteFile:
    name: str = text("Name of the file as imported")
    sha256: str = text("Hash of its bytes")
    byte_count: int = whole("Size", minimum=0)
    read_at: str = text("When it was imported")
    options: str | None = text("Options that settled how it was read, as JSON", default=None)
    entry: str | None = text("The entry that brought it in", default=None)
    accepted: int = whole("Rows accepted", minimum=0)
    rejected: int = whole("Rows rejected", minimum=0)
    skipped: int = whole("Rows skipped", minimum=0)
    part: str | None = text("Which part of the file it is; empty for the whole file", default=None)


@record
class NoteReject:
    note_file: str = reference("note_file", "The file", facet=True)
    line: int = whole("Line, from 1", minimum=1)
    status: str = choice(("rejected", "skipped"), "Rejected or skipped")
    reason: str = text("Reason code", facet=True)
    column_name: str | None = text("Column", default=None)
    value: str | None = text("What was in it", default=None)
    words: str | None = text("The reason in words, and what settles it", default=None)
    raw: str = text("The line as imported, as a JSON list of cells")
    closed_by: str | None = reference("note_file", "The file that brought the row in corrected", default=None)
    closed_line: int | None = whole("Its line in that file", default=None, minimum=1)


@record
class NoteExtra:
    note_file: str = reference("note_file", "The file")
    line: int = whole("Line, from 1", minimum=1)
    cells: str = text("Cells of columns that the importer does not know, as JSON")


@record
class Picture:
    """A picture that photographs show; its id is the hash of the bytes that are kept."""

    came_sha256: str = text("Hash of the file as it came first")
    width_px: int = whole("Width in pixels", minimum=1)
    height_px: int = whole("Height in pixels", minimum=1)
    thumbnail_width_px: int = whole("Width of the small one", minimum=1)
    thumbnail_height_px: int = whole("Height of the small one", minimum=1)
    byte_count: int = whole("Size", minimum=1)
    kept_at: str = text("When it was kept")


@record
class Entry:
    made_at: str = text("When")
    made_by: str | None = text("Who", default=None)
    asked: str = text("What was asked for, as it was typed")
    took_back: str | None = text("The entry that it took back", default=None)
    reason: str | None = text("Why, where that was said", default=None)


@record
class Calculation:
    calculator: str = text("Name of the calculator", facet=True)
    version: int = whole("Its version", minimum=1)
    subject_table: str | None = text("Table of what it was computed for", default=None)
    subject_id: str | None = text("Id of what it was computed for", default=None)
    given: str = text("Inputs in canonical units, as JSON")
    found: str = text("Outputs in canonical units, as JSON")
    rows: str | None = text("Rows of the listing, as JSON", default=None)
    uncertainties: str | None = text("Standard uncertainties of the outputs (k = 1), as JSON", default=None)
    origins: str = text("Where each input came from, as JSON")
    verdict: str = choice(VERDICTS, "Verdict", facet=True)
    reasons: str = text("Reasons and findings, as JSON")
    package: str = text("Package of the plugin")
    package_version: str = text("Its version")
    calculated_at: str = text("When")
    calculated_by: str | None = text("Who", default=None)
    entry: str | None = text("The entry that kept it", default=None)
    fingerprint: str | None = text(
        "What its calculator declared and found for its worked examples then; alike for all of one version",
        default=None,
    )


@record
class Clash:
    """A record with several versions that no later one follows; it is gone as soon as one does."""

    table_name: str = text("Table")
    row_id: str = text("Id of the record")
    why: str = choice(
        ("changed", "removed", "needed"),
        "Changed in two ways, changed in one place and removed in another, or removed while another record needs it",
        facet=True,
    )
    shown: str = text("The version that is shown")
    others: str = text("The versions that are kept beside it, as JSON")
    differing: str = text("The columns in which they differ, as JSON")


@record
class Erasure:
    """A mark of something that was erased: ids alone, never its text. It goes along wherever the records go, and takes
    the same out there. ``row_id`` of a name is the id that notes would give to a person of that name; of a file and of
    a picture the hash."""

    what: str = choice(("name", "text", "file", "picture"), "What was erased", facet=True)
    table_name: str | None = text("Table of the record whose text was erased", default=None)
    row_id: str = text("Id of the record, of the name, of the file or of the picture")
    version: str | None = text("The version whose text was erased; empty for all of them", default=None)
    column_name: str | None = text("Column of the text", default=None)
    instead: str = text("What stands in its place")
    words: int | None = whole("Words of the name", default=None, minimum=1)
    in_texts: str | None = choice(
        YES_NO, "Whether the name goes out of all texts, not only from where it says who", default=None
    )


@record
class NoteDiff:
    """Which diff a version of a weighing or of a diff in a run from notes is of, where its build is of another one:
    kept by its id, so that it says the same wherever laptops meet."""

    table_name: str = text("Table of the record")
    row_id: str = text("Id of the record")
    version: str = text("The version of it that is meant")
    diff: str = text("Id of its diff")
