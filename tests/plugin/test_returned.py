"""What a function may not return is refused in the same words wherever a result is seen or kept. All data are invented.

One plugin returns another wrong value for each mass, so that each surface loads it once.
"""

from __future__ import annotations

import json
from html import unescape
from pathlib import Path
from typing import Final

import pytest
from browser_team import site_over
from failing_plugins import Bench, Command, plugin

from bevelbook import calculate
from bevelbook.cli import session
from bevelbook.declare.errors import PluginFault
from bevelbook.plugin import registry as registries
from bevelbook.plugin.registry import load

WRONG: Final = (
    ("Found(double_g=2j, word='even')", "compute gave double_g=2j, which has to be a number"),
    ("Found(double_g=None, word='even')", "compute gave double_g=None, which has to be known"),
    ("None", "compute gave None where a Found is wanted"),
    ("Found(double_g=Decimal('2'), word='even')", "compute gave double_g=Decimal('2'), which has to be a number"),
    ("Found(double_g=True, word='even')", "compute gave double_g=True, which has to be a number"),
    ("Found(double_g=numpy.True_, word='even')", "which has to be a number"),
    ("Found(double_g=numpy.complex64(1), word='even')", "which has to be a number"),
    ("Found(double_g=numpy.array([1.0]), word='even')", "compute gave double_g=array([1.]), which has to be a number"),
    ("Found(double_g='19', word='even')", "compute gave double_g='19', which has to be a number"),
    ("Found(double_g=10**400, word='even')", "compute gave double_g over 9,223,372,036,854,775,807"),
    ("Found(double_g=math.inf, word='even')", "compute gave no finite double (double_g=inf)"),
    ("Found(double_g=numpy.float32('nan'), word='even')", "compute gave no finite double (double_g=nan)"),
    ("Piece(mass_g=1.0, count=1)", "compute gave Piece(mass_g=1.0, count=1) where a Found is wanted"),
    ("Found(double_g=1.0, word='fine')", "compute gave word='fine', which is none of even, odd"),
    ("Found(double_g=1.0, word='odd')", "judge gave the verdict 'fine', which is none of ok, caution, stop, unclear"),
    ("(one for one in ())", "compute gave <generator object compute.<locals>.<genexpr>> where a Found is wanted"),
)  # fmt: skip
"""What compute gives, and what is said of it; for the word odd judge gives a verdict that there is not."""
BODY: Final = """WRONG = (
    {},
    )
    return WRONG[round(given.mass_g) - 11] if given.mass_g < 50 else Found(
        double_g=numpy.float32(2.5), word=numpy.str_('even'),
        pieces=(Piece(mass_g=numpy.float64(1), count=numpy.int16(2)),)
    )"""
MASSES: Final = range(11, len(WRONG) + 11)
WORDS: Final = "calculator bad of plugin bad failed: "
WHOSE: Final = "This is a fault of the plugin; tell its author."


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("plugins")
    returned = ",\n    ".join(wrong for wrong, _ in WRONG)
    text = plugin(
        "bad",
        compute=f"import math, numpy; from decimal import Decimal; {BODY.format(returned)}",
        judge="return Judgement('fine' if found.word == 'odd' else 'ok', ('twice the mass',))",
    )
    (made / "bad.py").write_text(text, encoding="utf-8")
    return made


@pytest.fixture
def bench(bevelbook: Command, db: Path, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    monkeypatch.setattr(registries, "_installed", lambda: ())
    monkeypatch.setattr(session, "elsewhere_while_storing", lambda registry: None)  # a process each would take minutes
    return Bench(bevelbook, folder, db)


def flat(text: str) -> str:
    return " ".join(text.split())


def test_on_the_command_line_in_a_notebook_and_where_it_is_to_be_kept(bench: Bench) -> None:
    for mass, (wrong, words) in zip(MASSES, WRONG, strict=True):
        done = bench.command("calc", "bad", "--mass", f"{mass} g", "--keep", "--json")
        assert done.code == 3, wrong
        assert words in done.json["found"], wrong
        assert (done.json["plugin"], done.json["remedy"]) == ("bad", WHOSE), wrong
        assert f"bad.py, line {done.json['line']}: {WORDS}" in done.err, wrong
        with pytest.raises(PluginFault) as caught:
            calculate("bad", plugins=bench.folder, mass_g=mass)
        assert caught.value.how == done.json["found"], wrong
    assert bench.kept() == []
    assert calculate("bad", plugins=bench.folder, mass_g=60).double_g == 2.5
    taken = bench.command("calc", "bad", "--mass", "60 g", "--keep", "--json").json
    assert taken["outputs"] == {"double_g": 2.5, "half_g": None, "word": "even"}
    assert taken["rows"] == [{"mass_g": 1.0, "count": 2}]


def test_on_its_page_and_for_programs(bench: Bench) -> None:
    registry = load(folder=bench.folder)
    registry.loaded_from = None
    with site_over(bench.db, registry) as site:
        for mass, (wrong, words) in zip(MASSES, WRONG, strict=True):
            page = flat(unescape(site.page(f"/team/-/calc/bad?mass_g={mass}")))
            assert WORDS[1:] in page, wrong
            assert words in page, wrong
            assert "(bad.py, line " in page
            assert WHOSE in page, wrong
            answered = site.get(f"/team/-/calc/bad.json?mass_g={mass}")
            assert answered.status_code == 500, wrong
            assert words in answered.json()["found"], wrong
        assert "Twice the mass" in site.page("/team/-/calc/bad?mass_g=60")


def test_after_records_were_written_and_for_all_of_a_kind(bench: Bench) -> None:
    rows = [f"2026-05-01,rear-{mass},{mass}.00,1.50" for mass in (*MASSES, 60)]
    Path("notes.csv").write_text("\n".join(("date,diff,dry_mass_g,oil_mass_g", *rows, "")), encoding="utf-8")
    faults = bench.command("import", "notes.csv", "--json").json["plugin_faults"]
    assert bench.kept() == ["bad"]
    said = {one["subjects"][0]: one["found"] for one in faults}
    batch = bench.command("calc", "bad", "--all", "build", "--json")
    assert batch.code == 3
    assert batch.json["computed"] == 1
    for mass, (wrong, words) in zip(MASSES, WRONG, strict=True):
        assert words in said[f"rear-{mass}/1"], wrong
        assert any(words in one for one in batch.json["left_out"]), wrong
    assert json.loads(bench.command("calc", "bad", "--for", "rear-60/1", "--json").out)["verdict"] == "ok"
