"""Plugins that fail in every way we could think of, and a bench on which to try them. All data are invented.

The plugin file holds one calculator, one check and one chart that are sound but for one function.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Final, NamedTuple

from browser_team import site_over
from conftest import Outcome

from bevelbook.examining.outcomes import ExaminedOutcome, keep_outcome, version_of
from bevelbook.examining.target import target_of
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import load

Command = Callable[..., Outcome]
NOTHING_FOUND: Final = ExaminedOutcome(None, {})

SOUND: Final = {
    "compute": "return Found(double_g=2 * given.mass_g, word='even', pieces=(Piece(mass_g=1.0, count=2),))",
    "judge": "return Judgement('ok', ('twice the mass',))",
    "working": "return ('2 m',)",
    "lines": "return (CardLine('Twice', '2 g'),)",
    "passes": "return ('first pass',)",
    "picture": "return '<svg></svg>'",
    "picture_words": "return '1-2'",
    "checks": "return ()",
    "points": "return [{'x': 1.0}]",
    "charts": "return [CHART]",
    "offers": "return (CALCULATOR,)",
}
PLUGIN: Final = """
from bevelbook import (
    Calculator, CardLine, Chart, InputError, Judgement, OnCard, Source, Worked, choice, hookimpl, listing, quantity,
    record, whole,
)
import sys

ARITHMETIC = Source("computed", "arithmetic")

class Own(BaseException):
    pass

class Sly:
    def __repr__(self):
        raise RuntimeError("sly")

@record
class Given:
    mass_g: float = quantity("g", "Mass", same_as="builds.dry_mass_g")

@record
class Piece:
    mass_g: float = quantity("g", "Mass of a piece")
    count: int = whole("Pieces")

@record
class Found:
    double_g: float = quantity("g", "Twice the mass")
    half_g: float | None = quantity("g", "Half the mass", default=None)
    word: str = choice(("even", "odd"), "A word")
    pieces: tuple[Piece, ...] = listing(Piece, "Pieces", default=())

def compute(given):
    {compute}

def judge(given, found):
    {judge}

def working(given, found):
    {working}

def lines(given, found):
    {lines}

def passes(given, found):
    {passes}

def picture(given, found):
    {picture}

def picture_words(given, found):
    {picture_words}

def points(given):
    {points}

CALCULATOR = Calculator(
    name="{name}", title="{title}", question="What is twice that?", purpose="twice a mass", version=1, given=Given,
    found=Found, compute=compute, judge=judge, working=working, valid=("any mass",), sources=(ARITHMETIC,),
    worked=(Worked({{"mass_g": "1"}}, {{"double_g": 2.0}}, 0, ARITHMETIC),), answer="double_g", picture=picture,
    card=OnCard("heat", lines=lines, passes=passes, picture_words=picture_words), kept_after=("build",),
    page=("build",),
)
CHART = Chart("{name}", "{title}", "Points.", (("x", "X"),), {{"mark": "point"}}, points=points, calculator="{name}")

@hookimpl
def bevelbook_calculators():
    {offers}

@hookimpl
def bevelbook_checks(reader):
    {checks}

@hookimpl
def bevelbook_charts():
    {charts}
"""
NOTES: Final = "date,diff,dry_mass_g,oil_mass_g\n2026-05-01,rear-c,9.50,1.50\n"
ANY: Final = (
    ("raise KeyError('gone')", "raised KeyError: 'gone'"),
    ("sys.exit(4)", "raised SystemExit: 4"),
    ("raise Own('mine')", "raised Own: mine"),
    ("raise type('Sub', (KeyboardInterrupt,), {{}})()", "raised Sub"),
    ("return 1 + 'x'", "raised TypeError"),
    ("raise ValueError('odd')", "raised ValueError: odd"),
    ("return 10.0 ** 400", "raised OverflowError"),
)
"""What any function can do wrong, and what is said of it."""
CALCULATED: Final = frozenset({"record", "import", "calc", "card", "calc page"})


class Case(NamedTuple):
    """One function that fails: its body, what is said of it, and the surfaces that say so."""

    part: str
    body: str
    message: str
    named_on: frozenset[str]

    @property
    def title(self) -> str:
        return f"{self.part}: {self.body}"


def cases() -> Iterator[Case]:
    found = "Found(double_g=2.0, word='even', pieces={})".format
    for part, named_on, more in (
        (
            "compute",
            CALCULATED,
            (
                ("return None", "gave None where a Found is wanted"),
                ("return {{'double_g': 2.0}}", "gave {'double_g': 2.0} where a Found is wanted"),
                ("return given", "where a Found is wanted"),
                ("return Sly()", "gave a Sly that cannot be shown"),
                ("return Found(double_g='2', word='even')", "gave double_g='2', which has to be a number"),
                ("return Found(double_g=True, word='even')", "gave double_g=True, which has to be a number"),
                ("return Found(double_g=None, word='even')", "gave double_g=None, which has to be known"),
                ("return Found(double_g=float('inf'), word='even')", "gave no finite double"),
                ("return Found(double_g=float('nan'), word='even')", "gave no finite double"),
                ("return Found(double_g=10**400, word='even')", "gave double_g over"),
                ("return Found(double_g=1.0, half_g='x', word='even')", "gave half_g='x', which has to be a number"),
                ("return Found(double_g=1.0, word='strange')", "gave word='strange', which is none of even, odd"),
                ("return Found(double_g=1.0, word=3)", "gave word=3, which is none of even, odd"),
                (f"return {found('[]')}", "gave pieces=[], which has to be a tuple"),
                (f"return {found('(3,)')}", "gave 3 as item 1 of pieces, where a Piece is wanted"),
                (f"return {found('(Piece(mass_g=float(chr(110) + chr(97) + chr(110)), count=1),)')}", "no finite mass"),
                (f"return {found('(Piece(mass_g=1.0, count=1.5),)')}", "count=1.5, which has to be a whole number"),
            ),
        ),
        (
            "judge",
            CALCULATED,
            (
                ("return None", "gave None where a Judgement is wanted"),
                ("return 'ok'", "gave 'ok' where a Judgement is wanted"),
                ("return ('ok', ('twice',))", "where a Judgement is wanted"),
                ("return Judgement('fine', ('twice',))", "gave the verdict 'fine', which is none of ok, caution"),
                ("return Judgement(['ok'], ('twice',))", "gave the verdict ['ok'], which is none of ok, caution"),
                ("return Judgement('ok', ())", "gave the verdict ok without any reason"),
                ("return Judgement('ok', 'twice')", "gave reasons 'twice', where a tuple of words is wanted"),
                ("return Judgement('ok', (3,))", "gave reasons with 3 where words are wanted"),
                ("return Judgement('ok', (' ',))", "gave reasons with empty words"),
                (r"return Judgement('ok', ('\ud800',))", "which cannot be written as UTF-8"),
                ("return Judgement('ok', ('twice',), (None,))", "gave findings with None where words are wanted"),
            ),
        ),
        (
            "working",
            frozenset({"calc explained", "calc page"}),
            (
                ("return None", "gave None where lines of words are wanted"),
                ("return 'one line'", "gave 'one line' where lines of words are wanted"),
                ("return (3,)", "gave 3 where words are wanted"),
                ("yield 1 / 0", "raised ZeroDivisionError"),
                ("raise InputError('no', code='no')", "raised no"),
            ),
        ),
        (
            "lines",
            frozenset({"card"}),
            (
                ("return None", "gave None where lines of the card are wanted"),
                ("yield 'Twice'", "gave 'Twice' where a CardLine is wanted"),
                ("yield ('Twice', '2 g')", "where a CardLine is wanted"),
                ("yield CardLine('Twice', 2.0)", "gave 2.0 where words are wanted"),
                ("yield CardLine(None)", "gave None where words are wanted"),
                ("yield CardLine('Twice'); raise OSError('away')", "raised OSError: away"),
            ),
        ),
        (
            "passes",
            frozenset({"card"}),
            (("return 'all'", "gave 'all' where"), ("yield 3", "gave 3 where")),
        ),
        ("picture", frozenset({"card", "calc page"}), (("return 3", "gave 3"), ("return 'x'", "where a drawing"))),
        ("picture_words", frozenset({"card"}), (("return None", "gave None where words are wanted"),)),
        (
            "checks",
            frozenset({"check", "look page"}),
            (
                ("return 3", "raised TypeError"),
                ("yield None", "returned None is not a Finding"),
                ("yield Sly()", "returned a Sly that cannot be shown"),
            ),
        ),
        (
            "points",
            frozenset({"calc page"}),
            (
                ("return None", "drawing it raised TypeError"),
                ("return [3]", "drawing it raised TypeError"),
                ("return [{{'x': float('nan')}}]", "drawing it raised ValueError"),
                ("return [{{'x': Sly()}}]", "drawing it raised TypeError"),
                ("raise InputError('no', code='no')", "drawing it raised no"),
            ),
        ),
    ):
        for body, message in (*ANY, *more):
            yield Case(part, body.replace("{{", "{").replace("}}", "}"), message, named_on)


def plugin(name: str, **changed: str) -> str:
    return PLUGIN.format(name=name, title=name.title(), **(SOUND | changed))


class Bench(NamedTuple):
    """A folder with a sound plugin and one that may fail, and the commands that load these two alone."""

    run: Command
    folder: Path
    db: Path

    def put(self, **changed: str) -> None:
        """Write the plugin that may fail; ``changed`` are bodies of its functions."""
        (self.folder / "bad.py").write_text(plugin("bad", **changed), encoding="utf-8")

    def command(self, *words: object) -> Outcome:
        """Run a command. The plugins count as examined: what fails here stands for what fails at some inputs alone,
        and a process to find that out, for each of them, would take minutes (``tests/examining/`` does it)."""
        for file in self.folder.glob("*.py"):
            keep_outcome(version_of(target_of(Origin(file.stem, str(file)))), NOTHING_FOUND)
        return self.run("--plugins", self.folder, "--db", self.db, *words)

    def page(self, path: str) -> str:
        """A page, with the calculator in this process: a new one for each plugin would take long."""
        registry = load(folder=self.folder)
        registry.loaded_from = None
        with site_over(self.db, registry) as site:
            return " ".join(unescape(site.page(path)).split())

    def labels(self) -> list[str]:
        """The builds that are written."""
        return self.written()[0]

    def kept(self) -> list[str]:
        """The calculators that kept a result."""
        return self.written()[1]

    def written(self) -> tuple[list[str], list[str]]:
        """Both of them: opening the file takes longer than asking it."""
        with sqlite3.connect(self.db) as connection:
            labels = connection.execute("SELECT label FROM builds ORDER BY label").fetchall()
            kept = connection.execute("SELECT DISTINCT calculator FROM calculations ORDER BY 1").fetchall()
        connection.close()
        return [row[0] for row in labels], [row[0] for row in kept]
