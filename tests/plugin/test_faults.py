"""Whatever a plugin does wrong, the record is kept, the rest is shown, and the plugin is named. All data are invented.

Each function of a plugin on each surface, and each way to fail (``failing_plugins``) on some that show it: all go
through one guarded call, so not every pair is tried. A second plugin beside it is sound.
"""

from __future__ import annotations

import asyncio
import shutil
import sqlite3
from contextlib import closing
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Final, cast

import pytest
from browser_team import site_over
from constructed import Team, adding
from failing_plugins import ANY, NOTES, SOUND, Bench, Case, Command, cases, plugin

from bevelbook.cli import session
from bevelbook.declare.errors import BevelbookError, PluginFault
from bevelbook.drawing.unfit_charts import leave_out_unfit
from bevelbook.plugin import registry as registries
from bevelbook.plugin.guard import CodeOwner, call
from bevelbook.plugin.registry import load
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.shared.drawing import asked_rows, drawn_meanwhile

if TYPE_CHECKING:
    from _pytest.mark.structures import ParameterSet

_SURFACES: Final = ("record", "import", "calc", "card", "check", "calc page")
_FEW: Final = 3


def _cases(*surfaces: str) -> list[ParameterSet]:
    """What is tried on a surface, which may have two names.

    All cases of a function that few surfaces show; of one that more show every third, the others on those; one case of
    a function that it does not show.
    """
    turn = _SURFACES.index(surfaces[0])
    chosen = []
    for _part, of_part in groupby(cases(), key=lambda case: case.part):
        for place, case in enumerate(of_part):
            if not case.named_on.intersection(surfaces):
                is_tried = place == turn
            else:
                is_tried = len(case.named_on) < _FEW or (place + turn) % _FEW == 0
            if is_tried:
                chosen.append(pytest.param(case, id=case.title))
    return chosen


def test_each_case_is_tried_where_it_is_named() -> None:
    """Of what more surfaces show as well: no case is left out on all of them."""
    tried = {
        param.id
        for surface in ((one, "calc explained") if one == "calc" else (one,) for one in _SURFACES)
        for param in _cases(*surface)
        if cast("Case", param.values[0]).named_on.intersection(surface)
    }
    assert tried == {case.title for case in cases()}


@pytest.fixture(scope="module")
def one_build(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with a build of which the dry mass is known."""
    path = tmp_path_factory.mktemp("faults") / "team.db"
    connection = new_database(path)
    with transaction(connection, path):
        Team(adding(Writer(connection, "ana", lambda: "2026-05-04T10:00:00.000Z"))).build(dry_mass_g=9.5)
    connection.close()
    return path


@pytest.fixture
def bench(bevelbook: Command, tmp_path: Path, one_build: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    monkeypatch.setattr(registries, "_installed", lambda: ())
    monkeypatch.setattr(session, "elsewhere_while_storing", lambda registry: None)  # a process each would take minutes
    folder, db = tmp_path / "plugins", tmp_path / "team.db"
    folder.mkdir()
    (folder / "good.py").write_text(plugin("good"), encoding="utf-8")
    shutil.copy(one_build, db)
    return Bench(bevelbook, folder, db)


def flat(text: str) -> str:
    return " ".join(text.split())


def names_it(case: Case, text: str) -> bool:
    """Whether a text says which plugin failed, and how."""
    message = flat(text)
    return "plugin bad" in message.lower() and flat(case.message) in message


@pytest.mark.parametrize("case", _cases("record"))
def test_a_record_is_kept_and_the_plugin_that_failed_is_named(bench: Bench, case: Case) -> None:
    bench.put(**{case.part: case.body})
    done = bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4")
    fails = "record" in case.named_on
    assert done.code == (1 if fails else 0), done.err
    assert "Added build rear-a/2" in done.out
    assert "good of rear-a/2: ok: twice the mass" in done.out
    assert names_it(case, done.err) == fails, done.err
    assert ("bad.py, line" in done.err) == fails
    assert bench.written() == (["rear-a/1", "rear-a/2"], ["good"] if fails else ["bad", "good"])


@pytest.mark.parametrize("case", _cases("import"))
def test_notes_are_kept_and_the_plugin_that_failed_is_named(bench: Bench, case: Case) -> None:
    bench.put(**{case.part: case.body})
    Path("notes.csv").write_text(NOTES, encoding="utf-8")
    done = bench.command("import", "notes.csv")
    fails = "import" in case.named_on
    assert done.code == (1 if fails else 0), done.err
    assert "Worked out and kept: good for 1 (1 ok)" in done.out
    assert names_it(case, done.err) == fails, done.err
    labels, kept = bench.written()
    assert len(labels) == 2
    assert kept == (["good"] if fails else ["bad", "good"])


@pytest.mark.parametrize("case", _cases("calc", "calc explained"))
def test_a_calculation_ends_with_3_and_names_the_plugin(bench: Bench, case: Case) -> None:
    bench.put(**{case.part: case.body})
    for words, surface in (((), "calc"), (("--explain",), "calc explained")):
        done = bench.command("calc", "bad", "--mass", "9.5 g", *words)
        fails = bool({"calc", surface} & case.named_on)
        assert done.code == (3 if fails else 0), done.err
        assert names_it(case, done.err) == fails, done.err
        assert ("ok: twice the mass" in done.out) == ("calc" not in case.named_on)
        assert bench.command("calc", "good", "--mass", "9.5 g", *words).code == 0


@pytest.mark.parametrize("case", _cases("card"))
def test_a_card_shows_everything_else_and_a_line_that_names_the_plugin(bench: Bench, case: Case) -> None:
    bench.put(**{case.part: case.body})
    done = bench.command("card", "rear-a/1")
    fails = "card" in case.named_on
    assert done.code == (1 if fails else 0), done.err
    assert names_it(case, done.err) == fails, done.err
    assert ("bad.py, line" in done.err) == fails
    text = flat(done.out)
    assert names_it(case, text) == ("card" in case.named_on), text
    assert str(bench.folder) not in text.replace(f"--plugins {bench.folder} ", "")  # as in each command to copy
    assert "Good: ok: twice the mass" in text
    assert ("Bad: ok: twice the mass" in text) == ("calc" not in case.named_on)
    assert text.count("Twice 2 g") == (1 if case.part in ("compute", "judge", "lines") else 2)


@pytest.mark.parametrize("case", _cases("check"))
def test_a_check_finds_the_rest_and_names_the_plugin(bench: Bench, case: Case) -> None:
    bench.put(**{case.part: case.body})
    done = bench.command("check")
    fails = "check" in case.named_on
    assert done.code == 1, done.err
    assert names_it(case, done.err) == fails, done.err
    assert ("There may be more: the checks of 1 plugin failed." in flat(done.out)) == fails
    assert [line.split(",")[0] for line in done.out.splitlines() if line.startswith("rear-a")] == ["rear-a: rear-a/1"]
    listed = bench.command("calculators")
    assert listed.code == 0
    assert listed.out.splitlines()[0].startswith("bad")


@pytest.mark.parametrize("case", _cases("calc page"))
def test_the_page_of_a_calculator_shows_everything_else_and_names_the_plugin(bench: Bench, case: Case) -> None:
    bench.put(**{case.part: case.body})
    page = bench.page("/team/-/calc/bad?mass_g=9.5")
    assert names_it(case, page) == ("calc page" in case.named_on), page
    assert "What is twice that?" in page
    assert "any mass" in page
    assert "Traceback" not in page
    assert str(bench.folder) not in page
    assert ("Twice the mass." in page) == ("calc" not in case.named_on)


@pytest.mark.parametrize("case", [case for case in cases() if case.part == "checks"], ids=lambda case: case.title)
def test_the_page_of_what_is_worth_a_look_names_a_check_that_failed(bench: Bench, case: Case) -> None:
    bench.put(**{case.part: case.body})
    page = bench.page("/team/-/look")
    assert names_it(case, page), page
    assert str(bench.folder) not in page
    assert "rear-a" in page


# Hooks and what they offer


@pytest.mark.parametrize(
    ("part", "body", "message"),
    [
        *(
            (part, body.replace("{{", "{").replace("}}", "}"), message)
            for part in ("offers",)
            for body, message in ANY[:4]
        ),
        ("offers", "yield Sly()", "returned a Sly that cannot be shown (RuntimeError), which is not a Calculator"),
        ("offers", "return 3", "bevelbook_calculators raised TypeError"),
    ],
)
def test_a_hook_that_fails_is_listed_and_the_rest_works(bench: Bench, part: str, body: str, message: str) -> None:
    bench.put(**{part: body})
    listed = bench.command("calculators")
    assert listed.code == 1
    assert "plugin bad" in listed.out
    assert message in flat(listed.out)
    assert bench.command("calc", "good", "--mass", "1").code == 0
    assert bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4").code == 0
    assert bench.kept() == ["good"]


@pytest.mark.parametrize("text", ["import sys; sys.exit()", "class Own(BaseException): ...\nraise Own", "1 / 0"])
def test_a_module_that_fails_at_its_import_is_listed(bench: Bench, text: str) -> None:
    (bench.folder / "bad.py").write_text(text, encoding="utf-8")
    listed = bench.command("calculators")
    assert listed.code == 1
    assert "cannot be imported" in listed.out


@pytest.mark.parametrize(
    ("was", "instead", "message"),
    [
        ('valid=("any mass",)', "valid=3", "valid has to be a tuple of str"),
        ("sources=(ARITHMETIC,)", 'sources=("a book",)', "sources has to be a tuple of Source"),
        ('kept_after=("build",)', "kept_after=3", "kept_after has to be a tuple of str"),
        ('kept_after=("build",)', 'kept_after="build"', "kept_after has to be a tuple of str"),
        ('page=("build",)', "page=None", "page has to be a tuple of str"),
        ('purpose="twice a mass"', "purpose=None", "purpose is None where words are wanted"),
        ('card=OnCard("heat"', 'card=print("heat"', "TypeError"),
        ('purpose="twice a mass",', "", "Calculator is called without purpose=...: write that between its brackets"),
        ('Source("computed", ', "Source(title=", "Source is called without kind=...: write that between its brackets"),
    ],
)
def test_a_calculator_of_wrong_kinds_is_left_out_with_the_reason(
    bench: Bench, was: str, instead: str, message: str
) -> None:
    text = plugin("bad")
    assert was in text
    (bench.folder / "bad.py").write_text(text.replace(was, instead), encoding="utf-8")
    listed = bench.command("calculators")
    assert message in flat(listed.out)
    assert bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4").code == 0
    assert bench.kept() == ["good"]


def test_an_input_taken_from_a_column_that_there_is_not_is_a_fault_of_the_plugin(bench: Bench) -> None:
    text = plugin("bad").replace("builds.dry_mass_g", "builds.no_such_g")
    (bench.folder / "bad.py").write_text(text, encoding="utf-8")
    done = bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4")
    assert done.code == 1
    assert "'builds.no_such_g' is neither a column nor a listing" in done.err
    assert bench.labels() == ["rear-a/1", "rear-a/2"]
    assert bench.command("calc", "bad", "--for", "rear-a/1").code == 3
    assert "no_such_g" in bench.command("card", "rear-a/1").out


def test_a_chart_that_cannot_be_drawn_is_left_out_with_its_reason(bench: Bench) -> None:
    text = plugin("bad").replace("points=points", 'sql="SELECT gone FROM nowhere"')
    (bench.folder / "bad.py").write_text(text, encoding="utf-8")
    reason = "its sql cannot be asked: OperationalError: no such table: nowhere"
    listed = bench.page("/team/-/charts")
    assert f"plugin bad left out: bevelbook_charts returned chart 'bad': {reason}" in listed
    assert "chart/bad" not in listed
    assert "chart/good" in listed
    assert reason in flat(bench.command("calculators").out)
    with site_over(bench.db, load(folder=bench.folder)) as site:
        answer = site.get("/team/-/chart/bad")
    assert answer.status_code == 404
    assert reason in answer.text


def test_a_chart_that_the_database_does_not_answer_is_named_on_its_page(bench: Bench) -> None:
    """The schema has the table, this file lost it."""
    text = plugin("bad").replace("points=points", 'sql="SELECT name AS x FROM cars"')
    (bench.folder / "bad.py").write_text(text, encoding="utf-8")
    registry = load(folder=bench.folder)
    leave_out_unfit(registry)
    with closing(sqlite3.connect(":memory:")) as connection:
        chart = next(one for one in registry.charts() if one.name == "bad")
        found = asyncio.run(drawn_meanwhile(chart, registry, asked_rows(connection, chart, registry)))
    assert "chart bad of plugin bad failed: the database cannot answer its sql" in found.empty


@pytest.mark.parametrize("body", ["return 3", "raise Own()", "yield Sly()", "return [CHART._replace(columns=(3,))]"])
def test_a_hook_of_charts_that_fails_leaves_the_others(bench: Bench, body: str) -> None:
    bench.put(charts=body)
    page = bench.page("/team/-/charts")
    assert "chart/good" in page
    assert "chart/bad" not in page


# What a batch, programs and a person at the keyboard get


def test_a_batch_goes_on_past_the_records_for_which_a_plugin_fails(bench: Bench) -> None:
    bench.put(compute=f"if given.mass_g == 9.5: return None\n    {SOUND['compute']}")
    bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4")
    done = bench.command("calc", "bad", "--all", "build")
    assert done.code == 3
    assert "1 computed" in done.out
    assert "1 left out: calculator bad of plugin bad failed" in done.out
    assert "compute gave None where a Found is wanted" in done.err


def test_for_programs_a_fault_names_plugin_file_line_and_records(bench: Bench) -> None:
    bench.put(compute="return None")
    words = ("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4", "--json")
    (fault,) = bench.command(*words).json["plugin_faults"]
    assert (fault["plugin"], fault["package"], fault["file"]) == ("bad", *[str(bench.folder / "bad.py")] * 2)
    line = (bench.folder / "bad.py").read_text(encoding="utf-8").splitlines().index("def compute(given):") + 1
    assert (fault["line"], fault["subjects"]) == (line, ["rear-a/2"])
    outcome = bench.command("calc", "bad", "--mass", "1", "--json")
    assert (outcome.code, outcome.json["code"], outcome.json["line"]) == (3, "plugin_failed", line)


def test_a_card_for_programs_holds_each_fault_once(bench: Bench) -> None:
    bench.put(compute="raise ValueError('odd')")
    done = bench.command("card", "rear-a/1", "--json")
    (fault,) = done.json["plugin_faults"]
    assert (done.code, fault["plugin"], fault["found"]) == (1, "bad", "compute raised ValueError: odd")


def test_where_it_raised_is_the_line_of_the_plugin_and_not_of_what_it_called(bench: Bench) -> None:
    bench.put(compute="import json; json.loads(3)")
    done = bench.command("calc", "bad", "--mass", "1")
    line = (bench.folder / "bad.py").read_text(encoding="utf-8").splitlines().index("def compute(given):") + 2
    assert f"bad.py, line {line}: calculator bad of plugin bad failed: compute raised TypeError" in done.err


def test_where_it_raised_is_the_innermost_line_of_the_plugin(bench: Bench) -> None:
    bench.put(compute="def inner():\n        raise OSError('away')\n    return inner()")
    done = bench.command("calc", "bad", "--mass", "1")
    line = (bench.folder / "bad.py").read_text(encoding="utf-8").splitlines().index("def compute(given):") + 3
    assert f"bad.py, line {line}: calculator bad of plugin bad failed: compute raised OSError: away" in done.err


def test_a_page_opened_without_any_input_names_the_plugin_too(bench: Bench) -> None:
    text = plugin("bad", compute="return None").replace('"Mass", same_as="builds.dry_mass_g"', '"Mass", default=1.0')
    (bench.folder / "bad.py").write_text(text, encoding="utf-8")
    assert "plugin bad failed: compute gave None" in bench.page("/team/-/calc/bad")


def test_a_curve_leaves_out_what_is_not_finite_and_names_what_fails(bench: Bench) -> None:
    curve = 'curve=Curve("bad", "mass_g", 1.0, 2.0, ("double_g",), points=2)'
    for body, message in (
        (f"if given.mass_g > 1: return Found(double_g=float('inf'), word='odd')\n    {SOUND['compute']}", "1 row"),
        (f"if given.mass_g > 1: return None\n    {SOUND['compute']}", "calculator bad of plugin bad failed"),
    ):
        text = (
            plugin("bad", compute=body)
            .replace("points=points", curve)
            .replace("CardLine, Chart,", "CardLine, Chart, Curve,")
        )
        text = text.replace(', calculator="bad")', ")").replace('(("x", "X"),)', '(("mass_g", "Mass"),)')
        (bench.folder / "bad.py").write_text(text, encoding="utf-8")
        assert message in bench.page("/team/-/calc/bad?mass_g=1")


def test_the_interrupt_of_a_person_stops_the_program_and_nothing_is_changed(bench: Bench) -> None:
    bench.put(compute="raise KeyboardInterrupt")
    assert bench.command("calc", "bad", "--mass", "1").code == 130
    done = bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4")
    assert done.code == 130
    assert bench.labels() == ["rear-a/1"]


def test_a_refusal_of_the_plugin_is_an_input_error_as_before(bench: Bench) -> None:
    bench.put(compute="raise InputError('too light', code='outside_valid_range')")
    done = bench.command("calc", "bad", "--mass", "1")
    assert (done.code, "too light" in done.err) == (2, True)
    assert bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4").code == 0


def test_the_failure_of_a_formula_of_core_is_called_a_fault_of_the_program() -> None:
    def away() -> None:
        raise OSError("away")

    with pytest.raises(PluginFault, match="fault of the program") as caught:
        call(CodeOwner("the formula own", is_core=True), "compute", away, taken=lambda one: one)
    assert isinstance(caught.value, BevelbookError)
    assert caught.value.exit_code == 3


SLY_CLASSES: Final = """class Words(str):
        def _fail(self, *given):
            raise KeyError("shown")
        __str__ = __format__ = __repr__ = strip = encode = _fail
    class Real(float):
        __str__ = __format__ = __repr__ = __round__ = __float__ = Words._fail
    class Whole(int):
        __str__ = __format__ = __repr__ = __int__ = __index__ = Words._fail
    class Own(Found):
        pass
    """
"""Classes whose values fail wherever they are written out."""


@pytest.mark.parametrize(
    ("part", "body"),
    [
        ("compute", "return Own(double_g=Real(19.0), word=Words('even'), pieces=(Piece(mass_g=1.0, count=Whole(2)),))"),
        ("judge", "return Judgement(Words('ok'), (Words('twice the mass'),), (Words('look again'),))"),
        ("lines", "return (CardLine(Words('Twice'), Words('2 g'), Words('weighed'), Words('g')),)"),
        ("passes", "return (Words('first pass'),)"),
        ("picture_words", "return Words('1-2')"),
    ],
)
def test_a_value_that_fails_where_it_is_written_out_is_taken_as_the_plain_value(
    bench: Bench, part: str, body: str
) -> None:
    bench.put(**{part: SLY_CLASSES + body})
    done = bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.5")
    assert (done.code, done.err) == (0, "")
    assert bench.kept() == ["bad", "good"]
    card = bench.command("card", "rear-a")
    assert (card.code, card.err) == (0, "")
    calculated = bench.command("calc", "bad", "--mass", "9.5 g", "--explain")
    assert (calculated.code, calculated.err) == (0, "")
    assert "twice the mass" in calculated.out


def test_a_calculator_of_a_version_that_cannot_be_kept_is_named_and_the_record_is_kept(bench: Bench) -> None:
    text = plugin("bad").replace("version=1", "version=2**70")
    (bench.folder / "bad.py").write_text(text, encoding="utf-8")
    done = bench.command("record", "build", "diff=rear-a", "built_on=2026-05-09", "dry_mass=9.4")
    assert "Added build rear-a/2" in done.out
    assert "Traceback" not in done.err
    assert bench.labels() == ["rear-a/1", "rear-a/2"]
    assert bench.kept() == ["good"]
    named = bench.command("calculators")
    assert "the version is a whole number from 1 to 9,223,372,036,854,775,807" in flat(named.out + named.err)
