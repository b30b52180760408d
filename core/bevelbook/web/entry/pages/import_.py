"""A file of notes brought in: chosen or dropped, asked about one question at a time, looked at, and then stored."""

from __future__ import annotations

import io
import sqlite3
from collections import OrderedDict
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any, BinaryIO, Final, NamedTuple, TypeVar
from weakref import WeakKeyDictionary

from bevelbook.declare.errors import BevelbookError
from bevelbook.facts.sql import rows
from bevelbook.notes.known_profiles import known_profiles, profile_named
from bevelbook.notes.note_columns import COLUMNS
from bevelbook.notes.report import Report
from bevelbook.reading.options import ReadingOption
from bevelbook.records.kept_file_names import called_file
from bevelbook.store.ids import new_id
from bevelbook.store.sqlite_errors import in_words
from bevelbook.web.entry.import_look import (
    MOST_LINES,
    PATIENCE_S,
    ImportLook,
    Looked,
    NotAnsweredError,
    StoredImport,
    TooLongError,
    refuse_long,
)
from bevelbook.web.entry.import_so_far import ImportSoFar, answered, import_so_far, unsigned
from bevelbook.web.entry.import_words import PartWords, on_page, refused_words, words_of_part
from bevelbook.web.entry.request import EntryRequest, Kept, entry_request
from bevelbook.web.entry.waiting_files import LONGEST_S, MOST_BYTES, MOST_FILES, MOST_OF_A_PHONE, waiting_files
from bevelbook.web.host.arguments import any_text, one_of
from bevelbook.web.host.page import NAME_OR_NONE, EntryPage
from bevelbook.web.shared.fault_words import fault_words

T = TypeVar("T")

SO_FAR: Final = "so_far"
PROFILE: Final = "profile"
_SO_FAR_FIELD: Final = "form.so_far"
_QUESTION_FIELD: Final = "form.question"
_REMEMBERED: Final = 50
"""Imports whose reports are kept until the page that follows asks for them."""
_LONGEST_NAME: Final = 120
_MOST_DIFFS: Final = 12
_MEGA: Final = 1_000_000
_ON_THE_LAPTOP: Final = "Bring it in on the laptop: 'bevelbook import FILE'."


class Imported(NamedTuple):
    """What came of an import: in which words, and the diffs that it is about, by id and name."""

    parts: tuple[PartWords, ...]
    diffs: tuple[tuple[str, str], ...]
    is_taken_back: bool = False


_IMPORTED: Final[WeakKeyDictionary[Any, OrderedDict[str, tuple[PartWords, ...]]]] = WeakKeyDictionary()


async def bring_in(request: Any, datasette: Any) -> Any:
    """Choose a file, answer what it leaves open, look at what would come in, and store it."""
    asked = await entry_request(datasette, request)
    entry = request.url_vars.get("name")
    if entry:
        return await _stored(asked, entry)
    if not asked.is_sent:
        return await _step(asked, asked.page.given(SO_FAR))
    if asked.form.text(_SO_FAR_FIELD) and not asked.form.text("choose"):
        return await _answered(asked)
    return await _received(asked)


async def _choose(
    asked: EntryRequest, *, said: str = "", so_far: ImportSoFar | None = None, status: int = 200, is_fault: bool = True
) -> Any:
    """The form that takes a file; what was answered about one that is gone stays in it."""
    known = known_profiles(asked.page.registry)
    return await asked.render(
        PAGE,
        "Bring in a file",
        status=status,
        screen="choose",
        said=said,
        is_fault=is_fault,
        so_far=so_far.signed(asked.page.datasette) if so_far else "",
        most_mega=MOST_BYTES // _MEGA,
        most_lines=f"{MOST_LINES:,}",
        profile={
            "name": PROFILE,
            "words": "Its headings",
            "about": "A profile says what is written above the columns",
            "greyed": "no profile: ask what is not known",
            "typed": asked.form.text(PROFILE),
            "choices": [(one.name, one.title) for one in known.values()],
        },
    )


async def _received(asked: EntryRequest) -> Any:
    """Take a file in, and go on to its first question."""
    datasette = asked.page.datasette
    before = import_so_far(datasette, asked.form.text(_SO_FAR_FIELD))
    file = asked.file("file")
    if file is None:
        return await _choose(asked, said="Choose a file first.", so_far=before, status=400)
    name = _plain_name(file.name)
    if file.is_too_long:
        size = f"{name} has {file.sent_bytes / _MEGA:.1f} MB, and a page takes {MOST_BYTES // _MEGA} MB."
        return await _choose(asked, said=f"{size} {_ON_THE_LAPTOP}", so_far=before, status=413)
    try:
        refuse_long(io.BytesIO(file.content), file.content)
        sha256 = await waiting_files(datasette).keep(asked.phone.id, file.content)
    except TooLongError:
        return await _choose(asked, said=_too_long(name), so_far=before, status=413)
    except OSError:
        said = f"The laptop has no room left for {name}. Make room there, and send it again."
        return await _choose(asked, said=said, so_far=before, status=507)
    is_same = before is not None and before.sha256 == sha256
    so_far = before if before is not None and is_same else ImportSoFar(sha256, name)
    if asked.form.text(PROFILE):
        try:
            profile = profile_named(asked.form.text(PROFILE), known_profiles(asked.page.registry))
        except BevelbookError as stopped:
            return await _choose(asked, said=on_page(fault_words(stopped)), so_far=before, status=400)
        so_far = so_far._replace(settings=so_far.settings.over(profile), language="yes")
    return _on_to(asked, so_far)


async def _step(asked: EntryRequest, text: str, fault: str = "") -> Any:
    """The next question, or what would come in."""
    datasette = asked.page.datasette
    so_far = import_so_far(datasette, text)
    if so_far is None:
        said = "Nothing was stored of that file." if asked.page.given("stopped") else ""
        if text:
            said = "This page is of another laptop, or of another version of the program. Choose the file again."
        return await _choose(asked, said=said, is_fault=bool(text))
    try:
        looked = await _with_file(asked, so_far, lambda look: look.look())
    except TooLongError:
        return await _choose(asked, said=_too_long(so_far.name), status=413)
    except BevelbookError as stopped:
        return await _choose(asked, said=on_page(fault_words(stopped)), so_far=so_far, status=400)
    if looked is None:
        return await _gone(asked, so_far)
    return await _render(asked, so_far, looked, fault)


async def _render(asked: EntryRequest, so_far: ImportSoFar, looked: Looked, fault: str) -> Any:
    datasette = asked.page.datasette
    shown: dict[str, Any] = {"screen": "ready"}
    if looked.question is not None:
        question = looked.question
        is_field = question.asked is not None and question.asked.option is ReadingOption.COLUMNS
        is_year = question.asked is not None and question.asked.option is ReadingOption.YEAR
        shown = {
            "screen": "question",
            "question": question._replace(lines=tuple(map(on_page, question.lines))),
            "signed_question": question.signed(datasette),
            "fields": [(one.name, one.words) for one in COLUMNS] if is_field else [],
            "keypad": "numeric" if is_year else "",
            "number": len(so_far.asked) + 1,
            "typed": asked.form.text("typed"),
        }
    elif looked.refused is not None:
        shown = {"screen": "refused", "refusal": refused_words(looked.refused)}
    elif looked.otherwise is not None:
        shown = {"screen": "otherwise", "lines": [on_page(line.strip()) for line in looked.otherwise.lines()]}
        shown["may_change"] = looked.otherwise.report.outcome != "rejected" and not looked.otherwise.is_empty
    else:
        parts = [words_of_part(one.report, one) for one in looked.parts]
        reports = [one.report for one in looked.parts]
        shown["parts"] = parts
        shown["is_known"] = all(one.kept_as is not None and not one.added and not one.changed for one in reports)
        shown["kept"] = [
            (asked.page.links.record("note_files", one.kept_as.id, one.kept_as.name)) for one in reports if one.kept_as
        ]
        shown["button"] = _button(reports)
        shown["left_open"] = dict.fromkeys(asked.words for one in reports for asked in one.questions)
    return await asked.render(
        PAGE,
        f"Bring in {so_far.name}",
        status=400 if fault else 200,
        fault=fault,
        so_far=so_far.signed(datasette),
        key=new_id(),
        **shown,
    )


def _button(reports: Sequence[Report]) -> str:
    """What the button says that stores the file; empty where there is nothing to store."""
    if any(one.accepted for one in reports):
        return "Bring them in"
    return "Keep the file, and mend its rows" if any(one.rejected for one in reports) else ""


async def _answered(asked: EntryRequest) -> Any:
    """Take an answer, or bring the file in, or leave it."""
    datasette, form = asked.page.datasette, asked.form
    text = form.text(_SO_FAR_FIELD)
    so_far = import_so_far(datasette, text)
    if so_far is None:
        return await _step(asked, text)
    if form.text("leave"):
        await waiting_files(datasette).drop(asked.phone.id, so_far.sha256)
        return _redirect(asked.page.links.page(PAGE.address, stopped="yes"))
    if form.text("bring"):
        return await _bring(asked, so_far)
    question = unsigned(datasette, form.text(_QUESTION_FIELD))
    if question is None or "subject" not in question:
        return await _step(asked, text)
    try:
        after = answered(so_far, question, form.text("answer"), form.text("typed"))
    except BevelbookError as stopped:
        return await _step(asked, text, fault_words(stopped))
    if after is None:
        return await _step(asked, text, "Choose one of the answers.")
    return _on_to(asked, after)


async def _bring(asked: EntryRequest, so_far: ImportSoFar) -> Any:
    """Store the file, or read the kept one again, as one entry; sent twice it is stored once."""
    datasette, key = asked.page.datasette, asked.key
    address = asked.page.links.page(f"{PAGE.address}/{key}")
    is_again = asked.form.text("bring") == "again"
    words = f"read {so_far.name} again" if is_again else f"import {so_far.name}"

    def act(look: ImportLook) -> StoredImport | None:
        if _is_stored(look.connection, key):
            return None
        store = look.read_again if is_again else look.bring_in
        return store(asked.page.registry, asked=f"from the browser: {words}", entry_id=key)

    try:
        if await asked.page.ask(_is_stored, key):
            return _redirect(f"{address}?again=yes")
        found = await _with_file(asked, so_far, act, none=False)
    except NotAnsweredError:
        return _on_to(asked, so_far)
    except TooLongError:
        return await _choose(asked, said=_too_long(so_far.name), status=413)
    except BevelbookError as stopped:
        return await _step(asked, asked.form.text(_SO_FAR_FIELD), on_page(fault_words(stopped)))
    if found is False:
        return await _gone(asked, so_far)
    if found is None:
        return _redirect(f"{address}?again=yes")
    assert isinstance(found, StoredImport)
    _remember(datasette, key, tuple(_words(found)))
    await waiting_files(datasette).drop(asked.phone.id, so_far.sha256)
    return asked.stored(address, Kept(key, None))


def _words(found: StoredImport) -> list[PartWords]:
    return [words_of_part(one, also=[*found.after.sentences(one.note_file)]) for one in found.reports]


async def _stored(asked: EntryRequest, entry: str) -> Any:
    """What came of an import."""
    datasette = asked.page.datasette
    parts = _IMPORTED.get(datasette, OrderedDict()).get(entry)
    found = await asked.page.ask(imported_of, entry, parts)
    if found is None:
        return _redirect(asked.page.links.page(f"enter/stored/{entry}"))
    links = asked.page.links
    return await asked.render(
        PAGE,
        "Taken back" if found.is_taken_back else "Brought in",
        screen="stored",
        parts=[(one, links.record("note_files", one.note_file, "The file as it was kept")) for one in found.parts],
        diffs=[(links.page(f"diff/{diff}"), label) for diff, label in found.diffs],
        is_taken_back=found.is_taken_back,
        is_again=bool(asked.page.given("again")),
    )


def imported_of(connection: sqlite3.Connection, entry: str, parts: tuple[PartWords, ...] | None) -> Imported | None:
    """What an entry brought in, in the words that are remembered, else by what is stored; None where it brought no file
    in."""
    if parts is None:
        kept = rows(
            connection,
            "SELECT id, name, part, accepted, rejected, skipped FROM note_files WHERE entry = :entry ORDER BY part, id",
            {"entry": entry},
        )
        parts = tuple(
            PartWords(
                called_file(one["name"], one["part"]),
                f"{one['accepted']:,} came in, {one['rejected']:,} rejected, {one['skipped']:,} skipped.",
                "",
                note_file=one["id"],
                rejected_count=one["rejected"],
            )
            for one in kept
        )
    if not parts:
        return None
    diffs = rows(
        connection,
        "SELECT DISTINCT d.id, d.label FROM builds b JOIN diffs d ON d.id = b.diff WHERE b.id IN ("
        "SELECT id FROM builds WHERE note_file IN (SELECT value FROM json_each(:files)) "
        "UNION SELECT build FROM weighings WHERE note_file IN (SELECT value FROM json_each(:files)) "
        "UNION SELECT build FROM run_diffs WHERE note_file IN (SELECT value FROM json_each(:files))) "
        "ORDER BY d.label, d.id LIMIT :most",
        {"files": _json([one.note_file for one in parts]), "most": _MOST_DIFFS},
    )
    taken = connection.execute("SELECT 1 FROM entries WHERE took_back = ?", (entry,)).fetchone()
    return Imported(parts, tuple((one["id"], one["label"]) for one in diffs), taken is not None)


async def _with_file(
    asked: EntryRequest, so_far: ImportSoFar, act: Callable[[ImportLook], T], none: Any = None
) -> T | Any:
    """What a function makes of the file that waits; ``none`` where it is not on the laptop any more."""
    path = Path(asked.page.team.path)

    def read(file: BinaryIO) -> tuple[T]:
        with in_words(path), closing(asked.open_for_writing()) as connection:
            return (act(ImportLook(connection, path, file, so_far, asked.person)),)

    found = await waiting_files(asked.page.datasette).read(asked.phone.id, so_far.sha256, read)
    return none if found is None else found[0]


async def _gone(asked: EntryRequest, so_far: ImportSoFar) -> Any:
    said = (
        f"{so_far.name} is not on the laptop any more: {MOST_OF_A_PHONE} files of a phone wait there, {MOST_FILES} of "
        f"all, each for {LONGEST_S / 3600:.0f} hours at most and not over a restart. Choose it again; your answers are "
        "kept."
    )
    return await _choose(asked, said=said, so_far=so_far, status=410)


def _is_stored(connection: sqlite3.Connection, entry: str) -> bool:
    return connection.execute("SELECT 1 FROM entries WHERE id = ?", (entry,)).fetchone() is not None


def _on_to(asked: EntryRequest, so_far: ImportSoFar) -> Any:
    return _redirect(asked.page.links.page(PAGE.address, **{SO_FAR: so_far.signed(asked.page.datasette)}))


def _redirect(address: str) -> Any:
    from datasette.utils.asgi import Response

    return Response.redirect(address, status=303)


def _remember(datasette: Any, entry: str, parts: tuple[PartWords, ...]) -> None:
    held = _IMPORTED.setdefault(datasette, OrderedDict())
    held[entry] = parts
    while len(held) > _REMEMBERED:
        held.popitem(last=False)


def _plain_name(name: str) -> str:
    """The name of a file as a person reads it: without a folder, and without what cannot be seen."""
    last = name.replace("\\", "/").rpartition("/")[2]
    plain = " ".join("".join(sign for sign in last if sign.isprintable()).split())
    return plain[-_LONGEST_NAME:] or "notes.csv"


def _too_long(name: str) -> str:
    return (
        f"{name} is too long for a page: it has more than {MOST_LINES:,} lines, or takes longer than "
        f"{PATIENCE_S:.0f} s to read. {_ON_THE_LAPTOP}"
    )


def _json(texts: list[str]) -> str:
    import json

    return json.dumps(texts)


PAGE: Final = EntryPage(
    "import",
    bring_in,
    NAME_OR_NONE,
    MOST_BYTES,
    takes=(any_text(SO_FAR), one_of("stopped", "yes"), one_of("again", "yes")),
)
