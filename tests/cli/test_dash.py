"""- in place of a file, wherever a command takes or writes one: standard input and output. All data are invented."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import click
import pytest
from conftest import Begin, Outcome
from photographed import picture

from bevelbook.cli.files import FROM_DASH, TO_DASH, FileToRead, FileToWrite
from bevelbook.cli.group import group
from bevelbook.manual.commands import COMMANDS

Run = Callable[..., Outcome]
NOTES = "date,diff,dry mass,oil,total\n2026-05-03,rear-a,12.42,1.86,14.28\n2026-05-04,rear-a,heavy,1.86,14.28\n"


class Piped:
    """Standard input as a pipe, or as a terminal at which somebody types."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._monkeypatch = monkeypatch

    def __call__(self, data: bytes | str, *, is_terminal: bool = False) -> None:
        stream = io.TextIOWrapper(io.BytesIO(data.encode() if isinstance(data, str) else data), encoding="utf-8")
        self._monkeypatch.setattr(stream, "isatty", lambda: is_terminal, raising=False)
        self._monkeypatch.setattr(sys, "stdin", stream)


@pytest.fixture
def piped(monkeypatch: pytest.MonkeyPatch) -> Piped:
    return Piped(monkeypatch)


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "scale", "name=pocket", "step=0.01"),
        ("record", "diff", "label=rear-a", "usual_position=rear"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-01", "dry_mass=12.42g", "oil_mass=1.86g"),
    )
    return bevelbook


@cache
def options() -> tuple[tuple[str, click.Parameter], ...]:
    """Every parameter of every command that names a file."""
    context = click.Context(group)
    found = []
    for name in COMMANDS:
        command = group.get_command(context, name)
        assert command is not None
        for param in command.params:
            is_folder = isinstance(param.type, click.Path) and not param.type.file_okay
            if isinstance(param.type, click.Path | FileToRead | FileToWrite | click.File) and not is_folder:
                found.append((name, param))
    return tuple(found)


def test_every_option_for_a_file_takes_a_dash_and_its_help_says_so() -> None:
    found = {f"{name} {param.opts[-1]}" for name, param in options()}
    assert {"import file", "import --rejects", "card --html", "record --save-as", "export --parquet"} <= found
    for name, param in options():
        assert isinstance(param.type, FileToRead | FileToWrite), (name, param.name)
        if isinstance(param, click.Option):
            words = TO_DASH if isinstance(param.type, FileToWrite) else FROM_DASH
            assert (param.help or "").endswith(words), (name, param.name)
            assert param.make_metavar(click.Context(group)) in ("FILE|-", "EXPORT|-")


def test_notes_come_in_from_standard_input_under_the_name_that_is_given(
    team: Run, piped: Piped, tmp_path: Path
) -> None:
    piped(NOTES)
    done = team("import", "-", "--name", "season.csv", "--json")
    assert (done.code, done.json["file"]) == (1, "season.csv")
    assert done.json["added"] == 1
    assert "heavy" in (tmp_path / "season.rejected.csv").read_text(encoding="utf-8-sig")
    piped(NOTES)
    again = team("import", "-")
    assert "1 known already" in again.out, "the same bytes are the same file, whatever it is called now"


def test_a_workbook_comes_in_from_standard_input(team: Run, piped: Piped) -> None:
    from openpyxl import Workbook

    book, held = Workbook(), io.BytesIO()
    for line in NOTES.splitlines()[:2]:
        book.active.append(line.split(","))
    book.save(held)
    piped(held.getvalue())
    done = team("import", "-", "--json")
    assert (done.code, done.json["file"], done.json["added"]) == (0, "standard-input", 1)


def test_rejected_rows_go_to_standard_output_and_come_in_again_from_it(team: Run, piped: Piped, tmp_path: Path) -> None:
    piped(NOTES)
    done = team("import", "-", "--name", "season.csv", "--rejects", "-")
    assert done.code == 1
    assert done.out.lstrip("\ufeff").startswith("date,diff,dry mass,oil,total,line,")
    assert "Rejected rows went to standard output" in done.err
    assert not list(tmp_path.glob("*.rejected.csv"))
    piped(done.out.replace("heavy", "12.42"))
    corrected = team("import", "-", "--name", "season.rejected.csv")
    assert corrected.code == 0, corrected.out


def test_a_profile_comes_from_and_goes_to_standard_streams(team: Run, piped: Piped, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text(NOTES.replace("dry mass", "Gewicht leer"), encoding="utf-8")
    written = team("import", "notes.csv", "--write-profile", "-")
    assert written.code == 0
    assert "Gewicht leer" in written.out
    piped('columns:\n  "Gewicht leer": "dry_mass_g"\n')
    assert team("import", "notes.csv", "--profile", "-", "--json").json["added"] == 1
    piped("columns: [")
    assert "standard input" in team("import", "notes.csv", "--profile", "-").err


def test_one_stream_is_one_file(team: Run, piped: Piped) -> None:
    piped(NOTES)
    refused = team("import", "-", "--profile", "-")
    assert refused.code == 2
    assert "- is given twice, and there is one standard input" in refused.err


def test_a_card_and_its_procedure(team: Run, piped: Piped, tmp_path: Path) -> None:
    page = team("card", "rear-a", "--html", "-")
    assert page.out.startswith("<!DOCTYPE html>")
    assert page.err == "Wrote the card of rear-a/1 to standard output.\n"
    team("card", "rear-a", "--html", "card.html")
    assert page.out == (tmp_path / "card.html").read_text(encoding="utf-8")
    piped('title: "Ours"\nsteps:\n  - {key: "look", title: "Look at it", do: "Look long."}\n')
    assert "Look long." in team("card", "rear-a", "--procedure", "-").out
    assert team("card", "--run-sheet", "--html", "-").out.startswith("<!DOCTYPE html>")
    assert team("card", "rear-a", "--html", "-", "--json").code == 2


def test_readings_of_a_scale_and_rows_of_a_calculator(team: Run, piped: Piped) -> None:
    piped("\ufeffmass_g,day,thing\n" + "20.00,2026-05-01,closed rear-b\n20.01,2026-05-01,closed rear-b\n" * 5)
    done = team("scale-check", "pocket", "--readings", "-", "--json")
    assert done.json["added"] == 10
    piped("runs,mass_g\n0,22.34\n6,22.30\n")
    weighed = team(
        "calc", "leak-trend", "--weighings-file", "-", "--oil-mass", "1.86", "--scale-step", "0.01", "--json"
    )
    assert weighed.json["outputs"]["loss_g"] == pytest.approx(0.04)


def test_a_picture_comes_from_and_goes_to_standard_streams(team: Run, piped: Piped) -> None:
    piped(picture())
    added = team("record", "photo", "--file", "-", "build=rear-a/1", "piece=outdrive", "side=lid side", "--json")
    assert added.code == 0, added.err
    code = "import sys; from bevelbook.cli import main; main(sys.argv[1:])"
    shown = subprocess.run(
        [sys.executable, "-c", code, "record", "photo", "rear-a/1 outdrive lid side", "--save-as", "-"],
        capture_output=True,
        check=True,
    )
    assert shown.stdout[:3] == b"\xff\xd8\xff"


def test_a_database_is_met_and_begun_from_standard_input(team: Run, piped: Piped, tmp_path: Path) -> None:
    held = (tmp_path / "bevelbook.db").read_bytes()
    piped(held)
    assert team("--db", "copy.db", "new", "--from", "-").code == 0
    assert "rear-a/1" in team("--db", "copy.db", "export", "--table", "builds", "--csv", "-").out
    assert team("--db", "other.db", "new").code == 0
    piped(held)
    met = team("--db", "other.db", "merge", "-")
    assert met.code == 0, met.err
    assert "From standard input:" in met.out
    assert "rear-a/1" in team("--db", "other.db", "export", "--table", "builds", "--csv", "-").out
    piped("not a database")
    refused = team("--db", "other.db", "merge", "-")
    assert refused.code == 2
    assert refused.err.startswith("bevelbook: standard input: ")


def test_all_of_it_goes_to_standard_output_as_a_zip_and_comes_in_again(team: Run) -> None:
    """Processes of their own, since bytes go through real streams alone."""
    code = "import sys; from bevelbook.cli import main; main(sys.argv[1:])"
    command = [sys.executable, "-c", code]
    whole = subprocess.run([*command, "export", "-"], capture_output=True, check=True)
    assert whole.stdout[:4] == b"PK\x03\x04"
    assert whole.stderr.decode().startswith("Wrote standard output, ")
    begun = subprocess.run([*command, "--db", "copy.db", "new", "--from", "-"], input=whole.stdout, check=False)
    assert begun.returncode == 0
    assert team("--db", "copy.db", "export", "season.zip").code == 0
    assert Path("season.zip").read_bytes() == whole.stdout
    assert "export season.zip --replace" in team("export", "season.zip").err
    assert team("export", "season.zip", "--replace").code == 0
    assert Path("season.zip").read_bytes() == whole.stdout
    assert team("export", "-", "--json").code == 2


def test_what_is_not_text_is_kept_from_a_terminal(team: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    refused = team("export", "--table", "diffs", "--parquet", "-")
    assert refused.code == 2
    assert "is not text, and standard output is a terminal" in refused.err


def test_somebody_at_a_terminal_is_told_that_it_waits_for_them(team: Run, piped: Piped) -> None:
    piped(NOTES, is_terminal=True)
    done = team("import", "-", "--json")
    assert re.search(r"reads what you type or paste here, up to Ctrl\+D", done.err)
    assert done.json["added"] == 1


def test_streams_that_are_closed_are_empty(team: Run, tmp_path: Path) -> None:
    """A process of its own, started with all three closed: what it writes goes into no file that it opens."""
    words = ["-c", "from bevelbook.cli import main; main(['export', '--table', 'diffs', '--csv', 'diffs.csv'])"]
    before = (tmp_path / "bevelbook.db").read_bytes()
    done = subprocess.run(["sh", "-c", 'exec "$@" <&- >&- 2>&-', "sh", sys.executable, *words], check=False)
    assert done.returncode == 0
    assert (tmp_path / "diffs.csv").read_text(encoding="utf-8").startswith("id,version,")
    assert (tmp_path / "bevelbook.db").read_bytes() == before


def test_a_file_called_dash_is_read_by_its_path(team: Run, tmp_path: Path) -> None:
    (tmp_path / "-").write_text(NOTES, encoding="utf-8")
    assert team("import", f".{os.sep}-", "--json").json["added"] == 1


def test_a_name_is_for_standard_input_alone_and_has_no_folder(team: Run, piped: Piped, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text(NOTES, encoding="utf-8")
    assert "a file has its own name" in team("import", "notes.csv", "--name", "other.csv").err
    piped(NOTES)
    assert "without a folder" in team("import", "-", "--name", "../other.csv").err
