"""The errors of the tool: what was wrong, where, what was found, what was wanted, what to do."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from typing import ClassVar, Final, NamedTuple

from bevelbook.declare.printable import printable
from bevelbook.declare.sentence import AS_DECLARED, FieldNaming, Named, Sentence, in_terms_of, parts_of
from bevelbook.declare.unseen import is_unseen, without_unseen

SIMILAR: Final = 0.6
"""How similar a known name has to be, as a share of its letters (difflib's ratio)."""
SIMILAR_SHORT: Final = 0.75
"""The same for a short word: half of its letters are soon found in any longer one."""
SHORT_WORD: Final = 5
"""Letters from which a word is not short."""
MOST_NEAR: Final = 3
"""Similar names that are named at most."""


class Place(NamedTuple):
    """Where a fault is: any part may be unknown. ``column`` is a column of a file, ``field`` a declared field, ``item``
    counts the items of a listing from 1."""

    file: str | None = None
    line: int | None = None
    column: str | None = None
    field: str | None = None
    item: int | None = None

    def __str__(self) -> str:
        return self.in_terms_of(AS_DECLARED)

    def in_terms_of(self, naming: FieldNaming) -> str:
        """The place in words, its field under the name that a reader knows."""
        parts = [self.file or ""]
        if self.line is not None:
            parts.append(f"line {self.line}")
        parts += [self.column or "", naming.as_place(self.field) if self.field else ""]
        if self.item is not None:
            parts.append(f"item {self.item}")
        return printable(", ".join(part for part in parts if part))


class BevelbookError(Exception):
    """A fault that a person can act on.

    ``code`` is stable and meant for programs; ``what`` is a short sentence without a full stop;
    ``remedy`` says what to do. Both may be a Sentence that names fields. ``naming`` is what the reader calls a field:
    whoever shows the fault sets it. ``exit_code`` is what the command line ends with. ``commands`` are what each is for
    and the command, to be copied: the command line prints them on lines of their own. ``is_found_said`` where ``what``
    says already what was found: programs get it, people do not read it twice.
    """

    exit_code = 2
    is_found_said = False
    commands: Sequence[tuple[str, str]] = ()
    naming: FieldNaming = AS_DECLARED

    def __init__(
        self,
        what: str,
        *,
        code: str,
        place: Place | None = None,
        found: str | None = None,
        wanted: str | None = None,
        remedy: str | None = None,
    ) -> None:
        super().__init__(what)
        self.what = what if isinstance(what, Sentence) else str(what)
        self.code = code
        self.place = place or Place()
        self.found = found
        self.wanted = wanted
        self.remedy = remedy

    def __str__(self) -> str:
        place = "" if self._names_its_place() else self.place.in_terms_of(self.naming)
        return f"{place}: {self.without_place()}" if place else self.without_place()

    def _names_its_place(self) -> bool:
        """Whether what was wrong already names the field that it is about, and there is no other place."""
        named = Named(self.place.field or "", is_place=True)
        return self.place == Place(field=self.place.field) and named in parts_of(self.what)

    def without_place(self) -> str:
        """What was wrong, found and wanted, and what to do, under the reader's names of fields."""
        text = in_terms_of(self.naming, self.what)
        if self.found is not None and not self.is_found_said:
            text += f", found {shown(self.found)}"
        if self.wanted:
            text += f", wanted {self.wanted}"
        end = "" if self.is_found_said and text.endswith(("?", ".")) else "."
        return printable(f"{text}{end} {in_terms_of(self.naming, self.remedy or '')}".strip())

    def as_dict(self) -> dict[str, object]:
        """The fault for programs: ``field`` is the field's name as declared, all else under the reader's names."""
        return {
            "error": in_terms_of(self.naming, self.what),
            "code": self.code,
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column or (self.naming.as_place(self.place.field) if self.place.field else None),
            "field": self.place.field,
            "item": self.place.item,
            "found": self.found,
            "wanted": self.wanted,
            "remedy": None if self.remedy is None else in_terms_of(self.naming, self.remedy),
        }

    def fields(self) -> tuple[str, ...]:
        """The names of the fields that it is about, its own first."""
        own = (self.place.field,) if self.place.field else ()
        named = (name for text in (self.what, self.remedy) if isinstance(text, Sentence) for name in text.named)
        return tuple(dict.fromkeys((*own, *named)))


class InputError(BevelbookError):
    """A value that cannot be used: unreadable, out of bounds, missing, or in conflict with another."""


class UnknownNameError(BevelbookError):
    """An unknown name; the error suggests similar ones.

    ``near`` is that suggestion, empty where no known name is similar; ``by_command`` says by a command where the names
    are listed or how such a thing is made. ``noun`` is what a sentence calls the kind, if that is not ``kind`` itself.
    """

    def __init__(self, kind: str, name: str, known: Iterable[str], *, by_command: str = "", noun: str = "") -> None:
        self.near = near_misses(name, known)
        self.by_command = by_command
        super().__init__(
            f"there is no {noun or kind} named {shown(name)}",
            code=f"unknown_{kind.replace(' ', '_')}",
            remedy=f"{self.near} {by_command}".strip() or None,
        )

    def on_page(self) -> str:
        """What is unknown and the similar names, without a command: a page has no command line."""
        return f"{self.what}. {self.near}".strip()


class DatabaseError(BevelbookError):
    """A file that cannot be used as a bevelbook database, or not now."""


class DeclarationError(BevelbookError):
    """A record, calculator, plugin or data set that is declared wrongly: a fault of its author."""

    exit_code = 3


class PluginFault(BevelbookError):
    """Code of a plugin, or of a formula of core, that broke its contract.

    ``what`` names the code that failed, ``how`` what it did; ``plugin`` and ``package`` name its origin, None for core
    itself. ``place`` is the line in the plugin's file, if known. ``may_be_inputs`` is set if far-off inputs may be the
    cause as well as a mistake in the plugin; the remedy says which inputs are far off, if any is.
    """

    NOT_FINITE = "not_finite"
    """The code of a number that is infinite or NaN."""
    exit_code = 3
    may_be_inputs = False
    show_traceback: ClassVar[Callable[[str], None] | None] = None
    """Where somebody asked for it: called with the traceback of what caused it as each is made, since not each of them
    is raised to the end."""

    def __init__(
        self,
        what: str,
        *,
        how: str,
        plugin: str | None = None,
        package: str | None = None,
        place: Place | None = None,
        remedy: str | None = None,
    ) -> None:
        super().__init__(what, code="plugin_failed", place=place, remedy=remedy)
        self.how = how
        self.plugin = plugin
        self.package = package
        if PluginFault.show_traceback is not None and (cause := sys.exception()) is not None:
            from traceback import format_exception

            PluginFault.show_traceback("".join(format_exception(cause)))

    def __str__(self) -> str:
        place = str(self.place)
        return f"{place}: {self._in_words()}" if place else self._in_words()

    def in_words(self) -> str:
        """The fault for cards and pages: its place with the bare file name, never the folder."""
        from pathlib import PurePath

        if self.place.file is None:
            return self._in_words()
        return self._in_words(f" ({self.place._replace(file=PurePath(self.place.file).name)})")

    def as_dict(self) -> dict[str, object]:
        return {**super().as_dict(), "found": self.how, "plugin": self.plugin, "package": self.package}

    def _in_words(self, where: str = "") -> str:
        return printable(f"{self.what}: {self.how}{where}. {self.remedy or ''}".strip())


class ProgramFault(BevelbookError):
    """A fault of the program itself: an exception that nobody foresaw."""

    exit_code = 3


def near_misses(name: str, known: Iterable[str]) -> str:
    """``Did you mean a or b?``, or nothing: known names that are spelt much alike, else that share a word.

    >>> near_misses("cacl", ["calc", "card"]), near_misses("foo", ["footer"])
    ('Did you mean calc?', '')
    >>> near_misses("dry_weight", ["dry_mass", "oil_mass"])
    'Did you mean dry_mass?'
    """
    near = near_names(name, known)
    return printable(f"Did you mean {' or '.join(near)}?") if near else ""


def near_names(name: str, known: Iterable[str]) -> list[str]:
    """Known names that are spelt much alike, the nearest first, else that share a word.

    >>> near_names("low-med", ["low", "medium", "high"]), near_names("quay", ["quay race", "spring race"])
    (['low'], ['quay race'])
    """
    from difflib import get_close_matches

    by_lower = {one.lower(): one for one in known}
    cutoff = SIMILAR_SHORT if len(name) < SHORT_WORD else SIMILAR
    near = [by_lower[one] for one in get_close_matches(name.lower(), by_lower, n=MOST_NEAR, cutoff=cutoff)]
    if not near:
        words = _words_of(name)
        near = [one for one in by_lower.values() if words & _words_of(one)][:MOST_NEAR]
    return near


def _words_of(name: str) -> set[str]:
    """The words that a name is made of, in lower case; a word of one or two letters says too little."""
    return {word for word in name.lower().replace("-", " ").replace("_", " ").split() if len(word) > 2}


def shown(text: str, length: int = 60) -> str:
    """A user's text in quotes, control characters and marks that nobody sees escaped, cut when long.

    >>> shown("K-01\\u200f"), shown("K\\ufe0f-01")
    ('"K-01\\\\u200f"', '"K\\\\ufe0f-01"')
    """
    safe = text if len(text) <= length else text[:length] + "…"
    has_stray = without_unseen(safe) != safe
    return '"' + "".join(_escaped(c) if has_stray and is_unseen(c) else _visible(c) for c in safe) + '"'


def _visible(character: str) -> str:
    return character if character.isprintable() else _escaped(character)


def _escaped(character: str) -> str:
    return character.encode("unicode_escape").decode()


def with_article(noun: str) -> str:
    """A noun with ``a`` or ``an``, by its first letter.

    >>> with_article("build"), with_article("opening"), with_article("idea")
    ('a build', 'an opening', 'an idea')
    """
    return f"{'an' if noun[:1].lower() in tuple('aeiou') else 'a'} {noun}"
