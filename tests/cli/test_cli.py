"""The command line: what it prints, and that every bad input ends in one clear message and exit code 2."""

from __future__ import annotations

import shlex
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome
from demo_book import demo_book

from bevelbook.cli import __file__ as cli_file
from bevelbook.cli.group import group
from bevelbook.manual.commands import COMMANDS
from bevelbook.plugin.registry import Registry, load
from bevelbook.records import KINDS, Kind
from bevelbook.reference import RULES_FIRST

Run = Callable[..., Outcome]
FILL = ("calc", "fill-target", "--dry-mass", "12.4g", "--oil-mass", "1.86 g")


def test_the_list_of_commands_says_what_each_command_says_of_itself() -> None:
    for name in COMMANDS:
        command = group.get_command(None, name)  # type: ignore[arg-type]
        assert command is not None
        assert command.help, name


def test_help_imports_nothing_heavy() -> None:
    """A start that prints help loads no plugin machinery and none of the big libraries."""
    code = (
        "import sys\n"
        "from bevelbook.cli import main\n"
        "try:\n    main(['--help'])\n"
        "except SystemExit:\n    pass\n"
        "heavy = {'pluggy', 'pint', 'yaml', 'datasette', 'uncertainties', 'scipy', 'sqlite_utils', 'sqlite3'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_a_calculation_with_plain_numbers_imports_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "from bevelbook.cli import main\n"
        "try:\n    main(['calc', 'fill-target', '--dry-mass', '12.4', '--oil-mass', '1.86'])\n"
        "except SystemExit:\n    pass\n"
        "heavy = {'pint', 'yaml', 'datasette', 'uncertainties', 'scipy', 'sqlite_utils', 'sqlite3'}\n"
        "heavy |= {'bevelbook.records'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


WRITES = {"opening", "migrate", "entries", "writing", "blanking", "blanking_rules", "folder_aside", "take_back"}
ONLY_READS = {f"bevelbook.store.{name}" for name in WRITES} | {"zipfile", "tempfile", "shutil", "secrets", "html"}
"""What only writing asks for; the largest of what it loads of the library of Python too."""
NO_RESULT_KEPT = {"hashlib", "bevelbook.calculating.keep", "bevelbook.calculating.kept_otherwise"}
ONLY_WORTH_A_LOOK = {
    f"bevelbook.reports.{name}"
    for name in (
        "bench_findings",
        "build_not_in_use",
        "diff_twice_in_run",
        "dry_mass_findings",
        "look_alike_names",
        "records_under_older_build",
        "rows_to_turn_findings",
        "uncompared_findings",
        "weighings_off_alike",
    )
}
IN_CLASH = {"bevelbook.reports.clashes", "bevelbook.store.clashes"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_book(tmp_path_factory.mktemp("demo") / "demo.db")


@pytest.mark.parametrize(
    ("command", "left_out"),
    [
        ("check", IN_CLASH | {"bevelbook.backup.dated_copy", "bevelbook.meeting", "yaml"}),
        (
            "plan",
            IN_CLASH
            | ONLY_WORTH_A_LOOK
            | {f"bevelbook.{name}" for name in ("reports.check", "planning.oil_for_event", "store.soundness")},
        ),
        ("card rear-a", IN_CLASH | NO_RESULT_KEPT | {"bevelbook.entering.record"}),
        ("compare rear-a/2 rear-a/3", IN_CLASH | NO_RESULT_KEPT | {"yaml", "bevelbook.entering"}),
    ],
)
def test_a_command_that_reads_loads_nothing_that_only_others_need(demo: Path, command: str, left_out: set[str]) -> None:
    words = ["--db", str(demo), *command.split()]
    code = (
        "import sys\n"
        "from bevelbook.cli import main\n"
        f"try:\n    main({words})\n"
        "except SystemExit:\n    pass\n"
        f"print(sorted({ONLY_READS | left_out} & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout
    assert done.stderr.strip() == "[]"


def test_a_fill_target_for_programs(bevelbook: Run) -> None:
    done = bevelbook(*FILL, "--reading", "14.25", "--json")
    assert done.code == 0
    assert set(done.json) >= {
        "calculator",
        "version",
        "inputs",
        "outputs",
        "standard_uncertainties_k1",
        "rows",
        "verdict",
        "reasons",
        "sources",
        "origins",
    }
    assert done.json["outputs"]["stop_mass_g"] == 14.26
    assert done.json["verdict"] == "ok"


def test_an_uncertainty_is_carried_to_the_outputs(bevelbook: Run) -> None:
    """What was typed and the scale's own, by hand: √(0.01² + 0.01²/6 + 2 × 0.01²) g = 0.0177951 g."""
    carried = bevelbook(
        "calc", "fill-target", "--dry-mass", "12.40 +/- 0.01 g (k = 1)", "--oil-mass", "1.86", "--json"
    ).json
    assert carried["standard_uncertainties_k1"] == pytest.approx(
        {"stop_mass_g": 0.0177951, "oil_mass_g": 0.0}, abs=1e-7
    )
    assert carried["input_standard_uncertainties_k1"] == {"dry_mass_g": 0.01}
    assert carried["taken_as_k2"] == []
    shown = bevelbook("calc", "fill-target", "--dry-mass", "12.40 +/- 0.01 g", "--oil-mass", "1.86").out
    assert "12.4 ± 0.01 g taken as k = 2, as printed here" in shown
    assert "14.260 ± 0.031 g (k = 2)" in shown, "2 √(0.005² + 0.01²/6 + 2 × 0.01²) g, in two digits"


def test_a_fill_target_for_people_says_the_verdict_first(bevelbook: Run) -> None:
    lines = bevelbook(*FILL, "--explain").out.splitlines()
    assert lines[1].startswith("ok: stop at 14.26 g")
    assert "How this was worked out" in lines
    assert any(line.startswith("Caution: Silicone oil on the floor is very slippery") for line in lines)
    assert RULES_FIRST in lines


def test_a_stop_ends_with_exit_code_1(bevelbook: Run) -> None:
    assert bevelbook(*FILL, "--reading", "14.5").code == 1


def test_calc_needs_no_database_and_keeping_does(bevelbook: Run, tmp_path: Path) -> None:
    assert bevelbook(*FILL).code == 0
    assert list(tmp_path.iterdir()) == []
    kept = bevelbook(*FILL, "--keep")
    assert (kept.code, "no such database" in kept.err) == (2, True)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("calc", "fill-target", "--dry-mass", "12.4 q", "--oil-mass", "1"), "--dry-mass"),
        (("calc", "fill-target", "--dry-mass", "12.4 gram s", "--oil-mass", "1"), "--dry-mass"),
        (("calc", "fill-target", "--dry-mass", "12.4 mm", "--oil-mass", "1"), "--dry-mass"),
        (("calc", "fill-target", "--dry-mass", "heavy", "--oil-mass", "1"), "--dry-mass"),
        (("calc", "fill-target", "--dry-mass", "-12.4", "--oil-mass", "1"), "--dry-mass"),
        (("calc", "fill-target", "--oil-mass", "1"), "--dry-mass is missing"),
        (("calc", "fill-target", "--dry-mass", "12.4"), "--oil-mass or --free-volume"),
        (("calc", "fill-targt",), "Did you mean fill-target?"),
        (("calc", "fill-target", "--dry-mas", "12.4"), "--dry-mass"),
        (("cacl",), "Did you mean calc"),
        (("--db", "none.db", "record", "person", "name=ana"), "no such database"),
        (("--db", ".", "record", "person", "name=ana"), "this is a folder"),
        (("calc", "fill-target", "--for", "rear-a/1"), "no such database"),
        (("--plugins", "nowhere", "calculators"), "no such folder"),
    ],
)  # fmt: skip
def test_a_bad_call_is_explained_with_exit_code_2(bevelbook: Run, words: tuple[str, ...], said: str) -> None:
    done = bevelbook(*words)
    assert done.code == 2
    assert said in done.err
    assert done.out == ""


def test_a_fault_is_json_too_where_json_was_asked_for(bevelbook: Run) -> None:
    done = bevelbook("calc", "fill-target", "--dry-mass", "heavy", "--oil-mass", "1", "--json")
    assert done.code == 2
    assert done.json["code"] == "number_unparseable"
    assert done.json["column"] == "--dry-mass"


def test_new_makes_a_database_once(bevelbook: Run, tmp_path: Path) -> None:
    assert bevelbook("new").code == 0
    before = (tmp_path / "bevelbook.db").read_bytes()
    again = bevelbook("new")
    assert (again.code, "a file with that name" in again.err) == (2, True)
    assert (tmp_path / "bevelbook.db").read_bytes() == before
    assert bevelbook("new", "--migrate").code == 0


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """A database with a diff, a fluid and a build."""
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "diff", "label=rear-a", "usual_position=rear"),
        ("record", "fluid", "label=house 7k", "viscosity=7000", "viscosity_source=own label"),
        (
            "record",
            "build",
            "diff=rear-a",
            "built_on=2026-05-03",
            "dry_mass=12.42g",
            "oil_mass=1,86g",
            "fluid=house 7k",
        ),
    )
    return bevelbook


def test_record_adds_a_build_with_the_next_label(team: Run) -> None:
    added = team("record", "build", "diff=rear-a", "built_on=2026-05-10", "dry_mass=12420 mg", "--json").json
    assert added["label"] == "rear-a/2"
    assert added["values"]["dry_mass_g"] == 12.42


def test_like_carries_over_what_was_not_weighed_and_says_so(team: Run) -> None:
    team("record", "build_shim", "build=rear-a/1", "place=small gears", "thickness=0.2", "pieces=2")
    done = team(
        "record", "build", "diff=rear-a", "built_on=2026-05-10", "dry_mass=12.41", "like=rear-a/1", "--json"
    ).json
    assert done["carried_over"] == {
        "fluid": "rear-a/1",
        "target_oil_mass_g": "rear-a/1, where it was the oil put in",
    }
    assert "oil_mass_g" not in done["values"]
    shown = team("record", "build", "rear-a/2", "note=same").out
    assert "fluid: house 7k" in shown
    connection = sqlite3.connect("bevelbook.db")
    assert connection.execute("SELECT count(*) FROM build_shims").fetchone()[0] == 2
    connection.close()


def test_record_changes_a_record_and_keeps_the_old_one(team: Run) -> None:
    assert team("record", "build", "rear-a/1", "hand_feel=smooth").out.startswith("Changed build rear-a/1")
    assert team("record", "build", "rear-a/1", "hand_feel=smooth").out.startswith("Nothing to change in")
    connection = sqlite3.connect("bevelbook.db")
    assert connection.execute("SELECT count(*) FROM history").fetchone()[0] == 1
    connection.close()


def test_record_puts_a_run_together_with_the_diffs_in_the_car(team: Run) -> None:
    done = team(
        "--by", "ana", "record", "run", "run_on=2026-05-03", "grip=hi", "track_temp=68 °F", "rear=rear-a/1", "--json"
    )
    assert done.json["values"]["track_temp_c"] == 20.0
    assert done.json["values"]["grip"] == "high"
    connection = sqlite3.connect("bevelbook.db")
    assert connection.execute("SELECT position FROM run_diffs").fetchone()[0] == "rear"
    assert connection.execute("SELECT updated_by FROM runs").fetchone()[0] == "ana"
    connection.close()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("record", "buld", "x=1"), 'no kind of record named "buld". Did you mean build? The kinds are person, car,'),
        (("record", "build", "dry_weight=4"), "Did you mean dry_mass? 'bevelbook record build --fields' lists them."),
        (("record", "opening", "fel=x"), "there is no field of an opening named"),
        (("record", "weighing", "diff=rear-a"), 'named "diff". Type build=rear-a: a diff\'s label'),
        (("record", "opening", "diff=rear a"), 'Type build=...: a diff\'s label means its last build'),
        (("record", "weighing", "diff=rear-aa"), 'There is no diff or build named "rear-aa". Did you mean rear-a?'),
        (("record", "run", "build=rear-a/1"), "Name it by its place: front=rear-a/1 or centre=rear-a/1 or rear="),
        (("record", "run", "build=rear-c/4"), 'rear=.... There is no diff or build named "rear-c/4".'),
        (("record", "run", "diff=rear-a"), "Name it by its place: front=rear-a or centre=rear-a or rear=rear-a."),
        (("record", "build", "dif=rear-a"), "Did you mean diff?"),
        (("record", "build", "diff=rear-b", "built_on=today"), "Did you mean rear-a?"),
        (("record", "build", "dry_mass=12.40"), "needs diff"),
        (("record", "build", "diff=rear-a", "built_on=2026-02-30"), "built_on"),
        (("record", "build", "diff=rear-a", "built_on=today", "dry_mass=-1"), "dry_mass: out of its bounds"),
        (("record", "build", "diff=rear-a", "built_on=today", "dry_mass=952"), "Give --yes if that is right"),
        (("record", "build", "rear-a/9", "note=x"), "there is no build named"),
        (("record", "run", "run_on=2026-05-03", "rear=rear-a/9"), "'bevelbook record build diff=rear-a'."),
        (("record", "run", "run_on=2026-05-03", "rear=qq"), "new too, make that before it: 'bevelbook record diff"),
        (("record", "opening", "x", "note=y"), "'bevelbook record opening build=...'."),
        (("record", "build", "rear-a/1", "hand_feel=smoth"), "Did you mean smooth?"),
        (("record", "calculation", "calculator=x"), "written by the tool only"),
        (("record", "build", "rear-a/1", "smooth"), "FIELD=VALUE"),
    ],
)  # fmt: skip
def test_a_bad_record_is_refused_and_nothing_changes(team: Run, words: tuple[str, ...], said: str) -> None:
    before = _content("bevelbook.db")
    done = team(*words)
    assert done.code == 2
    assert said in done.err
    assert _content("bevelbook.db") == before


def test_a_diff_that_is_there_is_named_as_one_word_of_a_command(team: Run) -> None:
    assert team("record", "diff", "label=rear a").code == 0
    assert 'Type "build=rear a": a diff\'s label means its last build' in team("record", "opening", "diff=rear a").err


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.own], ids=lambda kind: kind.name)
def test_the_command_that_makes_a_record_names_all_that_it_needs(team: Run, kind: Kind) -> None:
    words = shlex.split(kind.command())
    assert words[:3] == ["bevelbook", "record", kind.name.replace("_", "-")]
    named = {word.partition("=")[0] for word in words[3:]}
    lacking = team(*words[1:3])
    if kind.name == "join":
        assert "'bevelbook join KIND A B'" in lacking.err, "a join has a command of its own, which takes names"
    elif kind.from_file:
        assert "Name it: 'bevelbook record photo --file FILE" in lacking.err
        assert named == {field.stem for field in kind.needed}
    elif kind.needed:
        assert f"needs {', '.join(field.stem for field in kind.needed)}. " in lacking.err
        assert named == {field.stem for field in kind.needed}
    else:
        assert "with nothing in it" in lacking.err
        assert named == {kind.day}


def test_a_value_outside_the_sane_range_is_named_like_any_other_fault(team: Run) -> None:
    words = ("record", "build", "diff=rear-a", "built_on=2026-05-04", "dry_mass=1240", "oil_mass=50 g")
    done = team(*words, "--json")
    assert done.err == (
        'bevelbook: dry_mass: outside 5 to 100 g, found "1240". oil_mass is outside 0 to 10 g too. '
        "Give --yes if that is right. Nothing was changed.\n"
    )
    said = done.json
    assert (said["code"], said["field"], said["column"], said["found"]) == (
        "implausible",
        "dry_mass_g",
        "dry_mass",
        "1240",
    )
    taken = team(*words, "--yes", "--json").json
    assert taken["findings"] == ["dry mass of 1240 g is outside 5 to 100 g", "oil mass of 50 g is outside 0 to 10 g"]


def test_yes_takes_a_value_outside_the_sane_range(team: Run) -> None:
    assert team("record", "build", "rear-a/1", "dry_mass=120", "--yes").code == 0


def test_record_lists_the_fields_of_a_kind(team: Run) -> None:
    listed = team("record", "weighing", "--fields").out
    assert "Reading [g] (needed)" in listed
    assert any(one["name"] == "mass_g" for one in team("record", "weighing", "--fields", "--json").json)


def test_keep_and_batch_write_rows(team: Run) -> None:
    kept = team("calc", "fill-target", "--for", "rear-a/1", "--keep", "--json").json
    assert kept["kept"]["new"] is True
    assert kept["origins"]["viscosity_cst"] == "the fluid, build rear-a/1"
    report = team("calc", "fill-target", "--all", "build", "--json").json
    assert (report["computed"], report["new"]) == (1, 0)


def test_a_listing_comes_from_a_csv_file(bevelbook: Run, tmp_path: Path) -> None:
    (tmp_path / "fillings.csv").write_text("full_mass_g\n22.75\n22.72\n", encoding="utf-8")
    base = ("calc", "free-volume", "--dry-mass", "20.52", "--full-mass", "22.73", "--viscosity", "7000", "--json")
    assert bevelbook(*base, "--repeats-file", "fillings.csv").json["inputs"]["repeats"] == [
        {"full_mass_g": 22.75},
        {"full_mass_g": 22.72},
    ]
    (tmp_path / "wrong.csv").write_text("mass\n1\n", encoding="utf-8")
    assert "no column full_mass_g" in bevelbook(*base, "--repeats-file", "wrong.csv").err
    assert bevelbook(*base, "--repeats-file", "nowhere.csv").code == 2


def _content(path: str) -> str:
    connection = sqlite3.connect(path)
    text = "\n".join(connection.iterdump())
    connection.close()
    return text


@pytest.mark.parametrize("name", sorted(load().calculators))
def test_the_help_of_a_calculator_ends_with_its_cautions(bevelbook: Run, registry: Registry, name: str) -> None:
    help_text = " ".join(bevelbook("calc", name, "--help").out.split())
    cautions = registry.calculator(name).calculator.cautions
    for one in cautions:
        assert f"- {one}" in help_text
    assert ("Cautions:" in help_text) is bool(cautions)
    assert help_text.count(RULES_FIRST) == bool(cautions)


@pytest.mark.parametrize(
    ("kind", "said"), [("opening", "an opening needs"), ("idea", "an idea needs"), ("car", "a car")]
)
def test_a_kind_of_record_is_named_with_its_article(bevelbook: Run, kind: str, said: str) -> None:
    bevelbook("new")
    assert said in bevelbook("record", kind).err


ODD = "r\u202eear\x9b2J"
"""A label that would turn what follows it on the line, and clear the screen of some terminals."""
WRITTEN_OUT = "r\\u202eear\\x9b2J"


def printed(done: Outcome) -> str:
    """All that a command printed; no line of it holds what a terminal acts on."""
    lines = (done.out + done.err).split("\n")
    assert [line for line in lines if not line.isprintable()] == []
    return "\n".join(lines)


def test_direction_characters_in_a_label_are_printed_as_escapes(bevelbook: Run, db: Path) -> None:
    """A label is kept without them; a database that was written by something else may hold one."""
    odd, written_out = "rear\u202e-left", "rear\\u202e-left"
    added = bevelbook("--db", db, "record", "diff", f"label={odd}")
    assert printed(added) == (
        "Added diff rear-left\n  label: rear-left\n"
        "The name is kept as rear-left: 1 sign that nobody sees was taken out (U+202E).\n"
    )
    connection = sqlite3.connect(db)
    with connection:
        connection.execute("UPDATE diffs SET label = ?", (odd,))
    connection.close()
    assert written_out in printed(bevelbook("--db", db, "check"))
    build = ("record", "build", "label=b", "diff=rear-laft", "built_on=2024-02-14")
    assert f"Did you mean {written_out}?" in printed(bevelbook("--db", db, *build))
    assert odd in bevelbook("--db", db, "check", "--json").out


def test_control_characters_in_names_of_files_and_keys_are_printed_as_escapes(bevelbook: Run, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text("date,diff\n2024-02-14,a\n", encoding="utf-8")
    (tmp_path / f"{ODD}.yaml").write_text('columns: {"a\\e[2Jb": nix}\n', encoding="utf-8")
    done = bevelbook("import", "notes.csv", "--profile", f"{ODD}.yaml")
    assert done.code == 2
    assert f"{WRITTEN_OUT}.yaml, line 1, columns, a\\x1b[2Jb: " in printed(done)


@pytest.mark.parametrize("words", [(f"--{ODD}",), ("new", ODD), ("record", ODD), (ODD,), ("help", ODD)], ids=repr)
def test_words_that_a_command_cannot_take_are_repeated_with_escapes(words: tuple[str, ...], bevelbook: Run) -> None:
    done = bevelbook(*words)
    assert done.code == 2
    assert WRITTEN_OUT in printed(done)


def test_commands_print_through_the_one_place_that_writes_control_characters_out() -> None:
    """``print_text``, and a traceback that was asked for; ``print_json`` leaves texts as they are, for programs,
    ``print_drawing`` a drawing of ours."""
    folder = Path(cli_file).parent
    users = [path.name for path in sorted(folder.glob("*.py")) if "click.echo" in path.read_text(encoding="utf-8")]
    assert users == ["__init__.py"]
    assert Path(cli_file).read_text(encoding="utf-8").count("click.echo(") == 4
