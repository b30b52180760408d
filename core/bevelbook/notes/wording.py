"""What an import calls the options that settle a reading, and how it words the fault of a cell."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

from bevelbook.declare.in_command import in_command
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.reading import ReadingError
from bevelbook.reading.options import ReadingOption


class ImportOption(NamedTuple):
    """An option of ``import``: its name, the values it takes, and what a person says with it."""

    name: str
    values: str
    says: str

    def typed(self) -> str:
        """The option with its values, as it is typed."""
        return f"{self.name} {self.values}".rstrip()


IMPORT_OPTIONS: Final[dict[ReadingOption, ImportOption]] = {
    ReadingOption.DECIMAL_MARK: ImportOption("--decimal", ". or ,", "say which mark is the decimal one"),
    ReadingOption.DATE_ORDER: ImportOption("--date-order", "dmy, mdy or ymd", "say the order"),
    ReadingOption.TEMPERATURE_UNIT: ImportOption("--temp-unit", "C or F", "say which unit it is"),
    ReadingOption.DATE_BASE: ImportOption("--date-base", "1904", "say what day numbers count from"),
    ReadingOption.YEAR: ImportOption("--year", "YEAR", "say which year it is"),
    ReadingOption.ENCODING: ImportOption("--encoding", "NAME", "name the encoding"),
    ReadingOption.HEADER_LINE: ImportOption("--header-line", "N", "name the line of the headings"),
    ReadingOption.LINES: ImportOption("--lines", "A-B", "name the lines of one table"),
    ReadingOption.COLUMNS: ImportOption("--map", "HEADING=FIELD", "say what a heading means"),
    ReadingOption.PROPOSALS: ImportOption("--accept-map", "", "take what is proposed"),
    ReadingOption.OUT_OF_RANGE: ImportOption("--allow-out-of-range", "", "take it as it is"),
    ReadingOption.CONSTANT: ImportOption("--set", "COLUMN=VALUE", "give one value for the whole file"),
    ReadingOption.TRANSPOSE: ImportOption("--transpose", "", "read columns as rows"),
    ReadingOption.AS_ABOVE: ImportOption("--as-above", "COLUMN,COLUMN", "let blank cells mean the cell above"),
    ReadingOption.SHEET: ImportOption("--sheet", "NAME", "name the sheet"),
    ReadingOption.SHEET_AS_DIFF: ImportOption("--sheet-as-diff", "", "let the sheet's name be the diff of its rows"),
}


WHERE_CHANGED: Final = "import the sheet again with --take-changes (change the earlier row) or --as-new (one more row)"
"""What a person says of a row that looks like an earlier one, changed."""
WHERE_KEPT: Final = "read the kept file again, which changes its rows (--dry-run shows what changes, --yes does it)"
"""What a person does with a file that is in the database already, and that now reads otherwise."""
PROFILE_SETTLES: Final = "If it is a word of the team's, a profile settles it: "
"""Goes before what a profile has for a word of the team's own."""
REMEDIES: Final = {
    "viscosity_unit_wt": "Give it in the column fluid, and leave the viscosity empty until it is known in cSt.",
}
"""What to do in a sheet, where that differs from what to do with a single value."""


def typed(option: ReadingOption) -> str:
    """An option with its values, as it is typed.

    >>> typed(ReadingOption.DECIMAL_MARK)
    '--decimal . or ,'
    """
    return IMPORT_OPTIONS[option].typed()


def typed_with(option: ReadingOption, value: str) -> str:
    """An option with one value, as it is typed.

    >>> typed_with(ReadingOption.LINES, "1-40")
    '--lines 1-40'
    """
    return IMPORT_OPTIONS[option]._replace(values=value).typed()


def settles(option: ReadingOption) -> str:
    """An option that settles what was taken without proof.

    >>> settles(ReadingOption.ENCODING)
    '--encoding settles it'
    """
    return f"{IMPORT_OPTIONS[option].name} settles it"


def with_profile(name: str) -> str:
    """The option that reads a file with a profile, as it is typed.

    >>> with_profile("french")
    '--profile french'
    """
    return f"--profile {name}"


def with_option(remedy: str | None, option: ReadingOption, values: str | None = None) -> str:
    """What to do, and then the option that settles it, with its key in a profile; ``values`` replaces what it takes.

    >>> with_option("Correct it.", ReadingOption.OUT_OF_RANGE)
    'Correct it, or take it as it is: --allow-out-of-range (in a profile, allow_out_of_range).'
    """
    offered = IMPORT_OPTIONS[option]
    said = f"{offered._replace(values=offered.values if values is None else values).typed()}"
    words = f"{offered.says}: {said} (in a profile, {option.value})."
    if not remedy:
        return f"{words[0].upper()}{words[1:]}"
    return f"{remedy.removesuffix('.')}, or {words}"


def without_options(words: str) -> str:
    """What was worded for an import by command, as a page says it: without options and profiles.

    >>> without_options(with_option("Correct it.", ReadingOption.OUT_OF_RANGE))
    'Correct it.'
    >>> without_options(f"two readings. {with_option(None, ReadingOption.DATE_ORDER)}")
    'two readings.'
    """
    for option, offered in IMPORT_OPTIONS.items():
        first = f"[{offered.says[0]}{offered.says[0].upper()}]{re.escape(offered.says[1:])}"
        tail = rf"{first}: {re.escape(offered.name)}\b[^()]*\(in a profile, {option.value}\)\."
        words = re.sub(rf"\s*{tail}", "", re.sub(rf", or {tail}", ".", words))
    return words.partition(PROFILE_SETTLES)[0].strip()


def mapped(heading: str, name: str) -> str:
    """The option that says what one heading means, as it is typed.

    >>> mapped("w/ oil", "total_mass_g"), mapped("Oil", "ignore")
    ('--map "w/ oil=total_mass_g"', '--map Oil=ignore')
    """
    return f"{IMPORT_OPTIONS[ReadingOption.COLUMNS].name} {heading_typed(heading, name)}"


def heading_typed(heading: str, name: str) -> str:
    """A heading and what it means, as the value of an option is typed.

    >>> heading_typed("w/ oil", "total_mass_g"), heading_typed("Oil", "ignore")
    ('"w/ oil=total_mass_g"', 'Oil=ignore')
    """
    pair = f"{heading}={name}"
    if pair.replace("=", "").replace("_", "").isalnum():
        return pair
    return f'"{pair}"' if not set(pair) & set('"$`\\!') else "'" + pair.replace("'", "'\\''") + "'"


def question_lines(question: FileQuestion, command: str = "") -> Iterator[str]:
    """A question with its sample cells, and under it what to type for each answer, each whole on a line of its own, so
    that a line is copied as it stands; ``command`` is what was typed.

    >>> answers = (PossibleAnswer("C", "degrees Celsius"), PossibleAnswer("F", "degrees Fahrenheit"))
    >>> unit = FileQuestion(ReadingOption.TEMPERATURE_UNIT, "Which unit?", answers, samples=("88", "90"))
    >>> for line in question_lines(unit, "bevelbook import season.csv"):
    ...     print(line)
    Which unit? (88, 90)
      bevelbook import season.csv --temp-unit C
      bevelbook import season.csv --temp-unit F
    """
    samples = f" ({', '.join(question.samples)})" if question.samples else ""
    yield f"{question.words}{samples}"
    for one in question.answers:
        yield f"  {command} {_answer(question, one)}" if command else f"  {_answer(question, one)}"


def _answer(question: FileQuestion, answer: PossibleAnswer) -> str:
    if question.option is ReadingOption.COLUMNS:
        heading, _, name = answer.value.rpartition("=")
        return mapped(question.about or heading, name)
    option = IMPORT_OPTIONS[question.option]
    return f"{option.name} {in_command(answer.value)}" if option.values else option.name


def worded(error: ReadingError) -> str:
    """The fault of a cell in words, without its place and value, which are shown beside it."""
    words = f"{error.what}; wanted {error.wanted}" if error.wanted else error.what
    remedy = REMEDIES.get(error.code, error.remedy)
    remedy = with_option(remedy, error.settled_by) if error.settled_by else remedy
    return f"{words}. {remedy or ''}".strip()
