"""The command line: what it prints, and that every bad input ends in one clear message and exit code 2."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome

from bevelbook.cli import COMMANDS, group
from bevelbook.plugin.registry import Registry, load
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


def test_a_fill_target_for_programs(bevelbook: Run) -> None:
    done = bevelbook(*FILL, "--reading", "14.25", "--json")
    assert done.code == 0
    assert set(done.json) >= {
        "calculator",
        "version",
        "inputs",
        "outputs",
        "uncertainties",
        "rows",
        "verdict",
        "reasons",
        "sources",
        "origins",
    }
    assert done.json["outputs"]["stop_mass_g"] == 14.26
    assert done.json["verdict"] == "ok"


def test_an_uncertainty_is_carried_to_the_outputs(bevelbook: Run) -> None:
    carried = bevelbook("calc", "fill-target", "--dry-mass", "12.40 +/- 0.01 g", "--oil-mass", "1.86", "--json").json
    assert carried["uncertainties"] == pytest.approx({"stop_mass_g": 0.01, "oil_mass_g": 0.0}, abs=1e-9)
    shown = bevelbook("calc", "fill-target", "--dry-mass", "12.40 +/- 0.01 g", "--oil-mass", "1.86").out
    assert "stop mass    14.260 ± 0.010 g (k = 1)" in shown, "a derivative by steps may be off in its last digits"


def test_a_fill_target_for_people_says_the_verdict_first(bevelbook: Run) -> None:
    lines = bevelbook(*FILL, "--explain").out.splitlines()
    assert lines[1].startswith("ok: stop at 14.26 g")
    assert "How this was worked out" in lines
    assert any(line.startswith("Caution: Silicone oil on the floor") for line in lines)
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
def team(bevelbook: Run) -> Run:
    """A database with a diff, a fluid and a build."""
    for words in (
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
    ):
        assert bevelbook(*words).code == 0
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
    assert done["carried_over"] == {"fluid": "rear-a/1"}
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
        (("record", "buld", "x=1"), "Did you mean build?"),
        (("record", "build", "dif=rear-a"), "Did you mean diff?"),
        (("record", "build", "diff=rear-b", "built_on=today"), "Did you mean rear-a?"),
        (("record", "build", "diff=rear-a"), "needs built_on"),
        (("record", "build", "diff=rear-a", "built_on=2026-02-30"), "built_on"),
        (("record", "build", "diff=rear-a", "built_on=today", "dry_mass=-1"), "dry_mass: out of its bounds"),
        (("record", "build", "diff=rear-a", "built_on=today", "dry_mass=952"), "Give --yes if that is right"),
        (("record", "build", "rear-a/9", "note=x"), "there is no build named"),
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
