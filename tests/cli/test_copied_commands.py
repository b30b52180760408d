"""Commands that are printed to be copied name the database that was named before the command. All data are invented."""

from __future__ import annotations

import ast
import re
import shlex
import subprocess
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import pytest

import bevelbook
from bevelbook.cli.copied_commands import name_database, name_person, with_database
from bevelbook.declare.in_command import command_of, in_command, words_of_command
from bevelbook.manual.commands import COMMANDS
from bevelbook.manual.commands_to_copy import WITH_PERSON
from bevelbook.plugin.registry import load

Run = Callable[..., Any]


def test_a_command_in_an_error_names_the_database_that_was_named(
    bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Make one with 'bevelbook --db sunday.db new'" in bevelbook("--db", "sunday.db", "check").err
    assert "'bevelbook --db FILE ...'" in bevelbook("--db", "sunday.db", "check").err
    assert "Make one with 'bevelbook --db \"our team.db\" new'" in bevelbook("--db", "our team.db", "check").err
    assert "Make one with 'bevelbook new'" in bevelbook("check").err
    monkeypatch.setenv("BEVELBOOK_DB", "sunday.db")
    assert "Make one with 'bevelbook new'" in bevelbook("check").err, "a copy opens the same one"


def test_so_does_the_command_that_answers_a_question_in_a_script_and_what_a_command_says_of_the_next(
    bevelbook: Run,
) -> None:
    made = bevelbook("--db", "sunday.db", "new")
    assert "'bevelbook --db sunday.db import FILE'" in made.out
    for words in ("label=rear-a", "label=rear-b"):
        bevelbook("--db", "sunday.db", "record", "diff", words, "usual_position=rear")
    asked = bevelbook("--db", "sunday.db", "record", "run", "run_on=2026-05-03", "rear=rear-a")
    assert asked.code == 2
    assert "bevelbook --db sunday.db record " in asked.err, asked.err
    assert "bevelbook record" not in asked.err


def texts_for_others() -> Iterator[str]:
    """Texts of the sources that say what whoever sent something is to do with a command."""
    for path in Path(bevelbook.__file__).parent.rglob("*.py"):
        source = path.read_text(encoding="utf-8")
        if path.name == "commands_to_copy.py" or "bevelbook " not in source or not re.search("owner|sent it", source):
            continue
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and "bevelbook " in node.value:
                sentences = node.value.split(". ")
                yield from (
                    one
                    for one in sentences
                    if "bevelbook " in one and any(word in one for word in ("owner", "sent it"))
                )


def test_a_command_for_whoever_sent_something_names_no_database_of_this_laptop() -> None:
    found = [*texts_for_others(), "Ask for the file as bevelbook export wrote it"]
    assert len(found) >= 4, found
    name_database("sunday.db")
    try:
        assert [one for one in found if "sunday.db" in with_database(one)] == []
        assert with_database("ask whoever sent it.\n  bevelbook check") == (
            "ask whoever sent it.\n  bevelbook --db sunday.db check"
        )
    finally:
        name_database(None)


def broken(text: str) -> list[str]:
    """Lines in which a quoted command begins and does not end."""
    return [line for line in text.split("\n") if re.search(r"(?<!\w)'bevelbook [^']*$", line)]


def test_no_command_of_the_manual_or_of_a_help_is_broken_by_the_end_of_a_line(
    bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    for width in (40, 80, 100):
        monkeypatch.setenv("COLUMNS", str(width))
        texts = [bevelbook(name, "--help").out for name in COMMANDS]
        texts += [
            bevelbook("help", topic).out for topic in ("errors", "commands", "import", "run", "protects", "hooks")
        ]
        assert sum(text.count("'bevelbook ") for text in texts) > 100
        assert [line for text in texts for line in broken(text)] == []


def test_nor_is_one_of_a_plan(bevelbook: Run) -> None:
    """Whatever name the database has: what is pasted from one line is the whole command."""
    for options in ((), ("--db", "the spring of the second team.db")):
        bevelbook(*options, "new")
        bevelbook(*options, "record", "diff", "label=rear-a", "usual_position=rear")
        bevelbook(*options, "record", "event", "name=spring race of the valley", "first_on=2026-06-13")
        plan = bevelbook(*options, "plan", "spring race of the valley").out
        assert plan.count("'bevelbook ") >= 2
        assert broken(plan) == []
        assert any(
            re.search(r"event \"spring race of the valley\" venue=\.\.\. air_low=\.\.\. air_high=\.\.\.'", line)
            for line in plan.split("\n")
        )


def test_a_file_with_a_blank_in_its_name_is_one_word_of_a_command(bevelbook: Run, tmp_path: Path) -> None:
    book = tmp_path / "a b.db"
    assert bevelbook("--db", book, "demo").code == 0
    said = bevelbook("--db", book, "edition", tmp_path / "ed it", "--yes")
    (file,) = (tmp_path / "ed it").glob("*.db")
    assert f'bevelbook --db "{file}" serve' in said.out
    readme = (tmp_path / "ed it" / "README.md").read_text(encoding="utf-8")
    assert f'--db "{file.name}" serve' in readme and f'--from "{file.name}"' in readme
    sent = bevelbook("--db", book, "export", "--since", "2026-01-01", tmp_path / "week end.zip")
    assert "'bevelbook merge \"week end.zip\"'" in " ".join(sent.out.split())


SAID_BY: Final = (
    "check",
    "check --past",
    "check --put-by-list",
    "history",
    "calls --list",
    "card",
    "card quay",
    "plan",
    "plan 'quay race'",
    "backup",
    "backup --list",
    "join",
    "export --list",
    "export --rescue",
    "export --since 2026-01-01 week.zip",
    "export --since 2026-01-01 week.zip",
    "merge week.zip",
    "merge nothing.zip",
    "record",
    "record diff",
    "record diff --fields",
    "record diff rear-a --remove",
    "record fluid 'label=House 7K'",
    "record diff label=q1 usual_position=rear",
    "record build diff=q1 built_on=2026-05-01 fluid=",
    "record weighing build=q1/1 mass=14.20",
    "record car-diff car=nowhere rear=q1",
    "record run run_on=2026-05-03 rear=q1",
    "record scale name=pocket step=0.01",
    "scale-check pocket 20.00 20.01 20.00 20.01 20.00 20.02",
    "scale-check pocket 20.00 25.00 --on 2026-05-02",
    "scale-check",
    "check q1",
    "labels",
    "labels --html labels.html",
    "labels --pdf labels.pdf",
    "calculators",
    "calc",
    "calc oil-lost",
    "compare",
    "erase",
    "erase person",
    "edition out",
    "take-back --dry-run",
    "take-back 1 --dry-run",
    "take-back 9999",
    "import",
    "import nothing.csv",
    "import notes.csv --dry-run",
    "import notes.csv --temp-unit C --mass-unit g --yes",
    "new",
    "enter --end nobody",
    "enter --phones",
)
"""Commands on a book of its own, one after another, some of which are refused."""
NEEDS_BOOK: Final = "|".join(name for name in COMMANDS if name not in ("help", "calculators", "plugin"))


@pytest.fixture
def said_of_odd_name(bevelbook: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """What the commands say of a book with a blank in its name, on a narrow terminal."""
    assert bevelbook("--db", "a b.db", "demo").code == 0
    (tmp_path / "notes.csv").write_text("Date;Diff;Wt;Temp\n03.05.2026;rear-b;14.1;88\n", encoding="utf-8")
    monkeypatch.setenv("COLUMNS", "40")
    said = {}
    for words in SAID_BY:
        done = bevelbook("--db", "a b.db", *shlex.split(words))
        said[words] = said.get(words, "") + done.out + done.err
    return said


def test_whatever_a_command_says_each_command_in_it_names_the_book_and_stands_on_one_line(
    said_of_odd_name: dict[str, str],
) -> None:
    for_others = "Whoever gets it takes it in: 'bevelbook merge week.zip'"
    without, apart, named = [], [], 0
    for words, text in said_of_odd_name.items():
        line = " ".join(text.split())
        without += [
            (words, found)
            for found in re.findall(rf"bevelbook (?:{NEEDS_BOOK})\b.{{0,60}}", line.replace(for_others, ""))
            if not re.match(r"bevelbook [^']* --db ", found)
        ]
        commands = re.findall(r"""(?<![\w'])'(bevelbook (?:[^'"]|"[^"]*")*)'|(?<=\()(bevelbook [^)]*)\)""", line)
        named += sum('bevelbook --db "a b.db" ' in "".join(one) for one in commands)
        apart += [(words, one) for one in map("".join, commands) if not any(one in each for each in text.split("\n"))]
    assert without == []
    assert apart == []
    assert named >= 40
    assert for_others in " ".join(said_of_odd_name["export --since 2026-01-01 week.zip"].split())


PART_OF: Final = {
    "calc_rows": "calc",
    "car_records": "record",
    "import_": "import",
    "import_again": "import",
    "removing": "record",
}
"""Modules without a command of their own name, with the command that they are of."""


def test_the_commands_that_go_by_who_writes_are_those_that_read_it() -> None:
    found = set()
    for path in sorted((Path(bevelbook.__file__).parent / "cli").glob("*.py")):
        asked = {
            node.attr
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "session"
        }
        if asked & {"by", "writing"}:
            found.add(PART_OF.get(path.stem, path.stem.replace("_", "-")))
    assert found == set(WITH_PERSON)


@pytest.mark.parametrize("name", [name for name, options in WITH_PERSON.items() if options])
def test_an_option_with_which_a_command_writes_is_one_that_it_takes(bevelbook: Run, name: str) -> None:
    said = bevelbook(name, "degas", "--help").out if name == "calc" else bevelbook(name, "--help").out
    assert [option for option in WITH_PERSON[name] if option not in said] == []


def test_a_command_that_writes_names_the_person_who_was_named_and_no_other_does(bevelbook: Run) -> None:
    assert bevelbook("--db", "team.db", "demo").code == 0
    Path("notes.csv").write_text("Date;Diff;Wt;Temp\n03.05.2026;rear-b;14.1;88\n", encoding="utf-8")
    named, without = set(), []
    for words in SAID_BY:
        done = bevelbook("--db", "team.db", "--by", "ana maria", *shlex.split(words))
        line = " ".join((done.out + done.err).split())
        for options, name, rest in re.findall(
            r"(?<=')bevelbook ((?:--[a-z]+ (?:\"[^\"]*\"|\S+) )*)(\S+)([^']*)'", line
        ):
            writes = name in WITH_PERSON and not re.search("--fields|--list", rest)
            writes &= not WITH_PERSON.get(name) or any(f" {option}" in rest for option in WITH_PERSON[name])
            if writes != ('--by "ana maria" ' in options):
                without.append((words, options, name, rest))
            named |= {name} if writes else set()
    assert without == []
    assert {"record", "import", "erase", "scale-check"} <= named, named


def test_a_person_who_is_named_in_the_command_already_is_not_named_again() -> None:
    name_database(None)
    name_person("ana")
    try:
        assert with_database("'bevelbook record car name=x --by bo'") == "'bevelbook record car name=x --by bo'"
        assert with_database("'bevelbook join car a b' or 'bevelbook record car name=x --by bo'") == (
            "'bevelbook --by ana join car a b' or 'bevelbook record car name=x --by bo'"
        )
        assert with_database("'bevelbook record car --fields'") == "'bevelbook record car --fields'"
    finally:
        name_person(None)


def test_words_are_quoted_for_a_shell_in_one_place() -> None:
    """Two ways of quoting would make of one command two that look apart, and single quotes end a quoted command."""
    packages = [Path(bevelbook.__file__).parent, *(Path(bevelbook.__file__).parents[2] / one for one in ("plugins",))]
    quoting = [
        path.name
        for package in packages
        for path in sorted(package.rglob("*.py"))
        if re.search(r"shlex\.(?:join|quote)", path.read_text(encoding="utf-8"))
    ]
    assert quoting == ["in_command.py"]


@pytest.mark.parametrize(
    "word",
    [
        "",
        "rear-a",
        "lap_times=18.4 18.5",
        "bo's tin",
        'the "blue" tin',
        "$5 `x` \\ !",
        "a'b\"c",
        "été",
        "~",
        "*",
        "a\\",
    ],
)
def test_a_word_comes_out_of_a_shell_as_it_went_in(word: str) -> None:
    assert shlex.split(words_of_command(["record", word, "x"])) == ["record", word, "x"]
    assert subprocess.run(["sh", "-c", f"printf %s {in_command(word)}"], capture_output=True, check=True).stdout == (
        word.encode()
    )


@pytest.mark.parametrize("name", ["a$(touch ran)b", "`touch ran`", "o'neil $(touch ran)", "bo's `touch ran` tin"])
@pytest.mark.parametrize("copied", ["{}", "'{}'", "Type '{}' now.", '"{}"'])
def test_nothing_in_a_name_is_run_however_a_command_is_copied(name: str, copied: str, tmp_path: Path) -> None:
    line = copied.format(command_of("record", "person", f"name={name}"))
    subprocess.run(["sh", "-c", line], cwd=tmp_path, capture_output=True, check=False)
    assert not list(tmp_path.iterdir())


def test_the_command_that_answers_a_question_quotes_as_all_others_do(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "diff", "label=rear-a")
    asked = bevelbook("record", "run", "run_on=2026-05-03", "rear=rear-a", "lap_times=18.4 18.5")
    assert 'record run run_on=2026-05-03 rear=rear-a "lap_times=18.4 18.5" --closed-again' in asked.err


def test_a_calculator_is_named_by_its_whole_command() -> None:
    alone = re.compile(f"'(?:{'|'.join(map(re.escape, load().calculators))})'")
    root = Path(bevelbook.__file__).parents[2]
    files = [*(root / "core" / "bevelbook").rglob("*.py"), *(root / "plugins" / "bevelbook_plugins").rglob("*.py")]
    assert len(files) > 500
    assert [
        (path.name, node.value)
        for path in files
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
        if alone.search(node.value) and "calculator = '" not in node.value
    ] == []


def test_the_rejected_rows_come_with_the_command_that_brings_them_in_corrected(bevelbook: Run) -> None:
    rows = "2026-05-03;rear-b;12.4;14.1\n2026-05-34;rear-b;12.4;14.2\n"
    Path("my notes.csv").write_text(f"Date;Diff;Dry;Total\n{rows}", encoding="utf-8")
    bevelbook("--db", "team.db", "new")
    said = bevelbook("--db", "team.db", "--by", "ana", "import", "my notes.csv").out
    (command,) = (line.strip() for line in said.splitlines() if "my notes.rejected.csv" in line and "import" in line)
    assert command == 'bevelbook --db team.db --by ana import "my notes.rejected.csv"'
    file = Path("my notes.rejected.csv")
    file.write_text(file.read_text(encoding="utf-8").replace("2026-05-34", "2026-05-14"), encoding="utf-8")
    assert "closes 1 rejected row of my notes.csv" in bevelbook(*shlex.split(command)[1:]).out


@pytest.mark.parametrize("width", [60, 80, 100])
@pytest.mark.parametrize("book", ["t.db", "the spring of the second team.db"])
def test_a_line_beside_a_long_command_is_filled(
    bevelbook: Run, monkeypatch: pytest.MonkeyPatch, width: int, book: str
) -> None:
    """The options that a command gets when it is printed break no line once more: where one ends, the next word, or
    the next command, has no room."""
    options = ("--db", book, "--by", "ana maria")
    for words in (("new",), ("record", "diff", "label=rear-a"), ("record", "event", "name=spring race")):
        assert bevelbook(*options, *words).code == 0
    monkeypatch.setenv("COLUMNS", str(width))
    head = bevelbook(*options, "plan", "spring race").out.partition("\n\n")[0].split("\n")
    assert sum(" record " in line for line in head) >= 4
    for line, after in pairwise(head):
        if not after.startswith("  "):
            continue
        command = re.match(r"'bevelbook (?:[^'\"]|\"[^\"]*\")*'\S*", after.strip())
        next_word = command[0] if command else after.split()[0]
        assert len(line) + 1 + len(next_word) > width, (line, after)
    for line, after in pairwise(head):
        if after.startswith("  ") or not line.startswith("  "):
            continue
        assert line.endswith((".", "'.", "first.")), (line, after)
