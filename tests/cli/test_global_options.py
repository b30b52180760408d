"""Options of every command: before it, after it, and between a group and its subcommand. All data are invented."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from conftest import Outcome

from bevelbook.cli import main
from bevelbook.cli.global_options import GlobalOption, in_words, without_globals
from bevelbook.cli.group import group
from bevelbook.manual.commands import COMMANDS, OPTIONS
from bevelbook.plugin.registry import load

Run = Callable[..., Outcome]
FILL = ("calc", "fill-target", "--dry-mass", "12.4", "--oil-mass", "1.86")
REAR = ("usual_position=rear",)
OF_OUR_OWN = '''
from bevelbook import Calculator, Judgement, Source, Worked, hookimpl, quantity, record

ARITHMETIC = Source("computed", "two times three is six")


@record
class Given:
    """A mass."""

    by_g: float = quantity("g", "A mass", minimum=0)


@record
class Found:
    """Twice that."""

    double_g: float = quantity("g", "Twice that mass")


@hookimpl
def bevelbook_calculators():
    yield Calculator(
        name="doubling",
        title="Doubling",
        question="What is twice that mass?",
        purpose="twice a mass",
        version=1,
        given=Given,
        found=Found,
        compute=lambda given: Found(double_g=2 * given.by_g),
        judge=lambda given, found: Judgement("ok", (f"twice that is {found.double_g:g} g",)),
        working=lambda given, found: (f"2 × {given.by_g:g} g",),
        valid=("any mass",),
        sources=(ARITHMETIC,),
        worked=(Worked({"by_g": "3 g"}, {"double_g": 6.0}, 0.0, ARITHMETIC),),
        answer="double_g",
    )
'''


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a plugin whose input is called like an option of every command."""
    made = tmp_path / "ours"
    made.mkdir()
    (made / "doubling.py").write_text(OF_OUR_OWN, encoding="utf-8")
    return made


def every_command() -> list[tuple[str, ...]]:
    """All commands with the subcommands of groups, and each calculator."""
    ctx = click.Context(group)
    found: list[tuple[str, ...]] = [("calc", name) for name in sorted(load().calculators)]
    for name in COMMANDS:
        found.append((name,))
        command = group.get_command(ctx, name)
        if isinstance(command, click.Group):
            found += [(name, one) for one in command.commands]
    return found


def test_every_command_takes_them_after_it_too_and_refuses_another_value_with_both(bevelbook: Run) -> None:
    every = every_command()
    assert len(every) > len(COMMANDS) + 15
    for name in ("a", "b"):
        Path(name).mkdir()
    for words in every:
        for option in ("--db", "--by", "--plugins"):
            done = bevelbook(option, "./a", *words, option, "./b")
            assert done.code == 2, (words, option, done.out)
            assert f"Give {option} once: it was given as './a' and as './b'." in done.err, (words, done.err)


def test_every_help_names_them_once_at_the_end_and_only_that_of_the_program_explains_them(bevelbook: Run) -> None:
    for words in every_command():
        said = " ".join(bevelbook(*words, "--help").out.split())
        assert said.count("Taken by every command") == 1, words
        assert said.endswith(
            "--db FILE, --by NAME, --plugins FOLDER, -q, --debug. 'bevelbook --help' explains them."
        ), words
        assert OPTIONS["--debug"] not in said, words
    said = " ".join(bevelbook("--help").out.split())
    assert [text for text in OPTIONS.values() if text not in said] == []


def test_a_database_named_behind_a_command_is_the_one_that_it_uses_and_that_it_names(
    bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BEVELBOOK_DB", "never.db")
    assert bevelbook("new", "--db", "sunday.db").code == 0
    assert bevelbook("record", "diff", "label=rear-a", "--by", "bo", "--db=sunday.db", *REAR).code == 0
    assert (
        bevelbook("--db", "sunday.db", "history", "--json", "--db", "sunday.db").json["entries"][0]["made_by"] == "bo"
    )
    asked = bevelbook("history", "--json", "--db", "sunday.db").json["entries"][0]["asked"]
    assert asked == "record diff label=rear-a usual_position=rear"
    assert bevelbook(*FILL, "--keep", "--db", "sunday.db").code == 0
    assert bevelbook("calc", "--db", "sunday.db", *FILL[1:], "--keep").out.splitlines()[-1].startswith("Known already")
    assert "'bevelbook --db away.db new'" in bevelbook("check", "--db", "away.db").err
    assert not Path("never.db").exists()


def test_a_command_that_answers_a_question_names_what_was_named_behind_it(bevelbook: Run) -> None:
    bevelbook("new", "--db", "sunday.db")
    for words in ("label=rear-a", "label=rear-b"):
        bevelbook("record", "diff", words, "usual_position=rear", "--db", "sunday.db")
    asked = bevelbook("record", "run", "run_on=2026-05-03", "rear=rear-a", "--db", "sunday.db", "-q")
    assert asked.code == 2
    assert "bevelbook --db sunday.db record run run_on=2026-05-03 rear=rear-a --" in asked.err
    assert asked.err.count("--db") == asked.err.count("bevelbook --db sunday.db record")


def test_what_stands_after_two_hyphens_or_is_the_value_of_another_option_is_none_of_them(bevelbook: Run) -> None:
    bevelbook("new")
    bevelbook("record", "person", "name=anna")
    done = bevelbook("record", "person", "anna", "--remove", "--by")
    assert done.code == 0, done.err
    assert bevelbook("history", "--json").json["entries"][0]["made_by"] is None
    assert bevelbook("check", "--", "--db").err.startswith("bevelbook: there is no")
    options = [click.Option(["--why"]), GlobalOption("--by")]
    read = in_words(["--why", "--by", "--", "--by", "bo"], options, takes_value=False)
    assert [one.option for one in read] == [None, None]


def test_words_without_them_are_as_they_were_typed() -> None:
    calc = click.Group("calc", params=[GlobalOption("--db")])
    fill = click.Command(
        "fill", params=[click.Option(["--oil"], nargs=2), GlobalOption("--db"), GlobalOption("--quiet")]
    )
    words = ["calc", "--db", "a.db", "fill", "--oil", "--db", "x", "-q", "rear-a", "--db=a.db", "--", "--db", "b"]
    assert without_globals(words, [calc, fill]) == ["calc", "fill", "--oil", "--db", "x", "rear-a", "--", "--db", "b"]


def test_plugins_named_behind_a_calculator_are_loaded_before_it_is_looked_for(bevelbook: Run, folder: Path) -> None:
    done = bevelbook("calc", "doubling", "--by", "3 g", "--plugins", folder, "--json")
    assert done.code == 0, done.err
    assert done.json["outputs"]["double_g"] == 6.0, "its own --by is its input"
    said = " ".join(bevelbook("calc", "doubling", "--plugins", folder, "--help").out.split())
    assert "--by [g]" in said
    assert "here: --db FILE, --plugins FOLDER, -q, --debug." in said


def test_quiet_leaves_only_errors_on_standard_error(bevelbook: Run, folder: Path) -> None:
    (folder / "broken.py").write_text("import nowhere_at_all\n", encoding="utf-8")
    loud = bevelbook(*FILL, "--plugins", folder)
    assert "1 plugin fault" in loud.err
    for words in (("-q", *FILL, "--plugins", folder), (*FILL, "--plugins", folder, "--quiet")):
        done = bevelbook(*words)
        assert (done.code, done.out, done.err) == (0, loud.out, "")
    bevelbook("new")
    assert bevelbook("export", "--table", "builds", "--csv", "-").err
    done = bevelbook("export", "--table", "builds", "--csv", "-", "-q")
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("id,")
    assert bevelbook("check", "rear-z", "-q").err.startswith("bevelbook: there is no"), "an error stays"


# Faults of the program itself


def test_a_fault_of_the_program_is_a_sentence_and_ends_with_3(bevelbook: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    bevelbook("new", "--db", "sunday.db")

    def planted(*given: object, **more: object) -> None:
        raise LookupError("planted")

    monkeypatch.setattr("bevelbook.reports.check.check", planted)
    assert "the command check failed" in bevelbook("--by", "new", "check", "--db", "sunday.db").err
    done = bevelbook("check", "--db", "sunday.db")
    assert (done.code, done.out) == (3, "")
    assert "the command check failed: LookupError: planted" in done.err
    assert "This is a fault of the program; tell us. Nothing in the database was changed." in done.err
    assert "To see more:\n  bevelbook check --db sunday.db --debug\n" in done.err
    as_json = bevelbook("check", "--db", "sunday.db", "--json")
    assert (as_json.code, as_json.json["code"]) == (3, "program_failed")
    assert json.loads(as_json.out)["error"].startswith("the command check failed: LookupError: planted")


def test_what_was_stored_before_a_fault_of_the_program_stays_and_is_said_so(
    bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    bevelbook("new")

    def planted(*given: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("bevelbook.cli.record._print", planted)
    done = bevelbook("record", "person", "name=anna")
    assert (done.code, done.out) == (3, "")
    assert "the command record failed: ZeroDivisionError (record.py, line " in done.err
    assert "tell us. What was stored before stays stored." in done.err


def shown(capsys: pytest.CaptureFixture[str], *words: object) -> Outcome:
    """A command that shows a traceback."""
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    return Outcome(int(ended.value.code or 0), *capsys.readouterr())


@pytest.mark.usefixtures("bevelbook")
def test_debug_shows_the_traceback_of_the_program_and_of_a_plugin(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, folder: Path
) -> None:
    def planted(*given: object, **more: object) -> None:
        raise LookupError("planted")

    with monkeypatch.context() as patched:
        patched.setattr("bevelbook.plugin.registry.load", planted)
        done = shown(capsys, *FILL, "--debug")
    assert done.code == 3
    assert done.err.startswith("Traceback (most recent call last):")
    assert "in planted" in done.err
    assert done.err.endswith("tell us. Nothing in the database was changed.\n"), "more is asked for already"

    failing = OF_OUR_OWN.replace("2 * given.by_g", "2 * given.by_g / (given.by_g < 4)")
    line = failing[: failing.index("< 4")].count("\n") + 1
    (folder / "doubling.py").write_text(failing, encoding="utf-8")
    (folder / "broken.py").write_text("import nowhere_at_all\n", encoding="utf-8")
    words = ("calc", "doubling", "--by", "5 g", "--plugins", folder)
    assert "Traceback" not in shown(capsys, *words).err
    done = shown(capsys, *words, "--debug")
    assert done.code == 3
    assert 'broken.py", line 1, in <module>' in done.err
    assert f'doubling.py", line {line}, in <lambda>' in done.err
    assert "ZeroDivisionError: float division by zero" in done.err
    assert f"bevelbook: {folder / 'doubling.py'}, line {line}: " in done.err

    checked = shown(capsys, "plugin", "check", folder / "broken.py", "--debug")
    assert (checked.code, 'broken.py", line 1, in <module>' in checked.err) == (1, True), "also out of another process"


@pytest.mark.parametrize(
    ("words", "planted_in"),
    [
        (("calc", "fill-target", "--dry-mass", "12.4", "--oil-mass", "1.86"), "bevelbook.calculating.calculate.run"),
        (("import", "notes.csv"), "bevelbook.notes.importing_parts.import_all"),
        (("serve", "--port", "0"), "bevelbook.web.host.serve.datasette_for"),
        (("enter", "--port", "0"), "bevelbook.web.host.enter.datasette_for"),
    ],
    ids=lambda one: one[0] if isinstance(one, tuple) else "",
)
def test_a_fault_of_the_program_ends_every_command_with_3(
    words: tuple[str, ...], planted_in: str, bevelbook: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("bevelbook.web.pairing.settings_folder.settings_folder", lambda: tmp_path / "settings")
    bevelbook("new")
    Path("notes.csv").write_text("diff,date,oil\nrear-a,2026-05-03,7k\n", encoding="utf-8")

    def planted(*given: object, **more: object) -> None:
        raise RuntimeError("planted")

    monkeypatch.setattr(planted_in, planted)
    done = bevelbook(*words)
    assert (done.code, done.out) == (3, ""), done.err
    assert f"the command {words[0]} failed: RuntimeError: planted" in done.err


@pytest.mark.parametrize("words", [("calc", "blend", "--rows", "9" * 400), ("import", "9" * 400), ("check",)])
def test_a_name_that_no_file_can_have_is_said_in_words(bevelbook: Run, tmp_path: Path, words: tuple[str, ...]) -> None:
    done = bevelbook("--db", tmp_path / ("team.db" if len(words) > 1 else "9" * 400), *words)
    assert done.code == 2
    assert "characters is too long for this disk" in done.err


def test_a_word_that_is_not_utf8_is_said_in_words(bevelbook: Run, db: Path) -> None:
    """A byte that is not UTF-8 comes from the shell as half of a pair of surrogates."""
    done = bevelbook("--db", db, "calc", "gland", "--for", "\udcff")
    assert (done.code, "a word of the command is not UTF-8 text" in done.err) == (2, True)


def test_json_holds_a_byte_that_is_no_text() -> None:
    """On a terminal that takes nothing but UTF-8 (RFC 8259, 8.2: JSON can hold half a pair, escaped)."""
    code = "from bevelbook.cli import print_json; print_json({'found': chr(0xdcff)})"
    env = {**os.environ, "PYTHONIOENCODING": "utf-8:strict"}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, env=env, check=True)
    assert json.loads(done.stdout) == {"found": "\udcff"}
