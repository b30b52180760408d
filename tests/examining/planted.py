"""Plugins with one fault each, all invented: what is written instead of a sound line, and how the fault is named."""

from __future__ import annotations

from typing import Final, NamedTuple

SOUND: Final = '''"""Twice a mass, as an example."""
from bevelbook import (
    Calculator, Chart, Finding, Judgement, Source, Worked, hookimpl, quantity, record, refuse,
)

ARITHMETIC = Source("computed", "two times three is six")

@record
class Given:
    mass_g: float = quantity("g", "A mass", minimum=0, plausible=(0.1, 500))

@record
class Found:
    double_g: float = quantity("g", "Twice that mass")

def compute(given):
    return Found(double_g=2 * given.mass_g)

def judge(given, found):
    return Judgement("ok", (f"twice that is {found.double_g:g} g",))

def working(given, found):
    return (f"2 x {given.mass_g:g} g = {found.double_g:g} g",)

def points(given):
    return [{"x": 1.0}]

DOUBLING = Calculator(
    name="doubling",
    title="Doubling",
    question="What is twice that mass?",
    purpose="twice a mass",
    version=1,
    given=Given,
    found=Found,
    compute=compute,
    judge=judge,
    working=working,
    valid=("any mass",),
    sources=(ARITHMETIC,),
    worked=(
        Worked({"mass_g": "3 g"}, {"double_g": 6.0}, 0.0, ARITHMETIC, "ok"),
    ),
    answer="double_g",
)

CHART = Chart("twice", "Twice", "Twice a mass.", (("x", "X"),), {"mark": "point"}, points=points)

@hookimpl
def bevelbook_calculators():
    return (DOUBLING,)

@hookimpl
def bevelbook_charts():
    return (CHART,)

@hookimpl
def bevelbook_checks(reader):
    return ()
'''
"""A plugin without a fault."""
PLAIN: Final = "\n\n".join(
    part for part in SOUND.split("\n\n") if not any(word in part for word in ("points", "_charts", "_checks"))
)
"""The same without its chart and its check, which take longest to look at."""


class Planted(NamedTuple):
    """A fault: the sound words that are replaced and by what, the flaw's code, words of it, and words of its line."""

    title: str
    was: str
    instead: str
    code: str
    said: str
    line: str
    is_serious: bool = True

    @property
    def text(self) -> str:
        """The whole file."""
        assert self.was in SOUND, self.title
        return (PLAIN if self.was in PLAIN else SOUND).replace(self.was, self.instead, 1)


RETURN: Final = "    return Found(double_g=2 * given.mass_g)"
JUDGED: Final = '    return Judgement("ok", (f"twice that is {found.double_g:g} g",))'
WORKED: Final = '"3 g"}, {"double_g": 6.0}, 0.0, ARITHMETIC, "ok"'
POINTS: Final = '    return [{"x": 1.0}]'
DECLARED: Final = '"A mass", minimum=0, plausible=(0.1, 500)'
DREW: Final = "points=points)"
_COUNTING: Final = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c)"


def _computing(title: str, body: str, code: str, said: str, *, line: str = "", is_serious: bool = True) -> Planted:
    """A fault in compute; ``body`` may be several lines."""
    instead = "\n".join(f"    {one}" for one in body.split("\n"))
    return Planted(title, RETURN, instead, code, said, line or body.split("\n")[0], is_serious)


def _drawing(title: str, sql: str, said: str) -> Planted:
    """A fault in the sql of a chart."""
    return Planted(title, DREW, f'sql="{sql}")', "left_out", said, "CHART = Chart(")


PLANTED: Final = (
    # Loading
    Planted("import of a module that is none", "ARITHMETIC = S", "import no_such_module\nARITHMETIC = S", "left_out",
            "ModuleNotFoundError", "import no_such_module"),
    Planted("a slip of the pen", "def judge(given", "def judge(:given", "left_out", "SyntaxError", "def judge(:"),
    Planted("sys.exit at its import", "ARITHMETIC = S", "import sys; sys.exit(3)\nARITHMETIC = S", "left_out",
            "SystemExit", "sys.exit(3)"),
    Planted("fills memory at its import", "ARITHMETIC = S", "HELD = bytearray(2**33)\nARITHMETIC = S", "memory",
            "MemoryError", "HELD = "),
    Planted("a misspelt hook", "def bevelbook_calculators", "def bevelbook_calculator", "left_out",
            "Did you mean bevelbook_calculators", "def bevelbook_calculator("),
    Planted("a hook without its mark", "@hookimpl\ndef bevelbook_charts", "def bevelbook_charts", "left_out",
            "lacks the @hookimpl mark", "def bevelbook_charts"),
    Planted("a hook that returns one thing alone", "return (DOUBLING,)", "return 3", "left_out", "raised TypeError",
            "def bevelbook_calculators"),
    Planted("a text in place of a calculator", "return (DOUBLING,)", "return ('doubling',)", "left_out",
            "which is not a Calculator", "def bevelbook_calculators"),
    Planted("a unit that is none", 'mass_g: float = quantity("g"', 'mass_g: float = quantity("grammes"', "left_out",
            "but its name says g", "mass_g: float"),
    Planted("a unit that nobody knows", 'mass_g: float = quantity("g"', 'mass: float = quantity("furlong/day"',
            "lacking", "there is no unit of that name", "mass: float"),
    Planted("a unit that is not the name's", 'mass_g: float = quantity("g"', 'mass_g: float = quantity("mm"',
            "left_out", "but its name says g", "mass_g: float"),
    Planted("the name of a bundled calculator", 'name="doubling"', 'name="fill-target"', "left_out",
            "is offered by plugin fill_target", "DOUBLING = Calculator("),
    Planted("no source", "sources=(ARITHMETIC,)", "sources=()", "left_out", "it names no source",
            "DOUBLING = Calculator("),
    Planted("a source that is a text", "sources=(ARITHMETIC,)", 'sources=("a book",)', "left_out",
            "sources has to be a tuple of Source", "DOUBLING = Calculator("),
    Planted("a forgotten comma behind one alone", "sources=(ARITHMETIC,)", "sources=(ARITHMETIC)", "left_out",
            "sources has to be a tuple of Source", "DOUBLING = Calculator("),
    Planted("a name that is not imported", "ARITHMETIC = S", "NO = Unit\nARITHMETIC = S", "left_out",
            "name 'Unit' is not defined", "NO = Unit"),
    Planted("an empty source", 'Source("computed", "two times three is six")', 'Source("", "")', "left_out",
            "a source of unknown kind", 'Source("", "")'),
    Planted("a source that names nothing", '"two times three is six"', '"..."', "source", "a source names nothing",
            "sources=", False),
    # Worked examples
    Planted("another value than its source prints", WORKED, WORKED.replace("6.0", "7.0"), "example_wrong",
            "gives 6 g for double_g, and 7 g is expected", "Worked("),
    Planted("an example in a unit that cannot be read", WORKED, WORKED.replace("3 g", "3 grammos"),
            "example_unreadable", "cannot be read as typed", "Worked("),
    Planted("an example with a formula of a spreadsheet", WORKED, WORKED.replace("3 g", "=1+2"),
            "example_unreadable", "Put in its value", "Worked("),
    Planted("an example with an unknown input", 'Worked({"mass_g"', 'Worked({"mas_g"', "example_unknown_name",
            "names the input 'mas_g', which there is not", "Worked("),
    Planted("an example with an unknown output", WORKED, WORKED.replace("double_g", "twice_g"), "example_unknown_name",
            "names the output 'twice_g', which there is not", "Worked("),
    Planted("another verdict than expected", WORKED, WORKED.replace('"ok"', '"stop"'), "example_verdict",
            "is judged ok, and stop is expected", "Worked("),
    Planted("an example that expects nothing", WORKED, WORKED.replace('"double_g": 6.0', ""),
            "example_expects_nothing", "expects no output", "Worked(", False),
    # What its functions return and do
    _computing("nan", 'return Found(double_g=float("nan"))', "example_fails", "no finite double", line="def compute"),
    _computing("infinite", "return Found(double_g=1e308 * 10)", "example_fails", "no finite double",
               line="def compute"),
    _computing("a complex number", "return Found(double_g=2j)", "example_fails", "has to be a number",
               line="def compute"),
    _computing("a text for a number", 'return Found(double_g="6")', "example_fails", "has to be a number",
               line="def compute"),
    _computing("None for a record", "return None", "example_fails", "where a Found is wanted", line="def compute"),
    _computing("failed arithmetic", "return Found(double_g=1 / 0)", "example_fails", "ZeroDivisionError"),
    _computing("its own example refused", 'raise refuse(given, "mass_g", "too light", remedy="Give more.")',
               "example_refused", "is refused", line="Worked("),
    Planted("failed arithmetic in judge", JUDGED, "    return 1 / 0", "example_fails", "judge raised Zero", "1 / 0"),
    Planted("a verdict that is none", JUDGED, JUDGED.replace('"ok"', '"fine"'), "example_fails",
            "the verdict 'fine', which is none of", "def judge"),
    Planted("a working that fails", "    return (f\"2 x", "    given.gone\n    return (f\"2 x", "example_fails",
            "working raised AttributeError", "given.gone"),
    _computing("random numbers", f"import random\n{RETURN.strip()[:-1]} + random.random())", "differs",
               "computed twice from its worked example, double_g is", line="Worked("),
    _computing("a file written", f'import pathlib\npathlib.Path("kept.txt").write_text("6")\n{RETURN.strip()}',
               "writes", "compute writes to a file (open)", line="pathlib.Path("),
    _computing("a database written", f'import sqlite3\nsqlite3.connect("team.db")\n{RETURN.strip()}',
               "database", "compute opens a database", line="sqlite3.connect("),
    _computing("another program", f'import subprocess\nsubprocess.run(["true"])\n{RETURN.strip()}', "process",
               "compute starts another program", line="subprocess.run("),
    _computing("the network", "import socket\nsocket.getaddrinfo('somewhere.invalid', 80)\n" + RETURN.strip(),
               "network", "compute uses the network", line="socket.getaddrinfo("),
    _computing("the clock", f"import time\ntime.time()\n{RETURN.strip()}", "clock", "compute reads the clock",
               line="time.time()", is_serious=False),
    _computing("the day", f"from datetime import date\ndate.today()\n{RETURN.strip()}", "clock",
               "compute reads the clock", line="date.today()", is_serious=False),
    _computing("printing", f'print("hello")\n{RETURN.strip()}', "prints", "compute prints", is_serious=False),
    Planted("printing at its import", "ARITHMETIC = S", 'print("hello")\nARITHMETIC = S', "prints",
            "the import prints", 'print("hello")', False),
    Planted("a file written at its import", "ARITHMETIC = S", 'open("kept.txt", "w")\nARITHMETIC = S', "writes",
            "the import writes to a file", 'open("kept.txt"'),
    # Ranges and words
    Planted("bounds the wrong way round", DECLARED, '"A mass", plausible=(500, 0.1)', "bounds",
            "the plausible range has nothing inside", "mass_g: float", False),
    Planted("a default out of its bounds", DECLARED, '"A mass", minimum=0, default=-1.0', "bounds",
            "is out of its bounds", "mass_g: float", False),
    Planted("an example outside the plausible range", DECLARED, '"A mass", plausible=(5, 500)', "example_outside",
            "outside the plausible range", "mass_g: float", False),
    Planted("silence outside the range", DECLARED, '"A mass"', "silent_outside", "it says nothing", "valid=", False),
    _computing("failed arithmetic outside the range", "return Found(double_g=6 * (given.mass_g / 3) ** 200)",
               "fails_outside", "it fails: compute raised OverflowError", is_serious=False),
    Planted("no docstring", '"""Twice a mass, as an example."""\n', "", "docstring", "does not say what it is for",
            "from bevelbook import (", False),
    Planted("a field about nothing", '"Twice that mass"', '"?"', "about", "double_g: what it is about says nothing",
            "double_g: float", False),
    Planted("a question that is none", "twice that mass?", "twice that mass", "question", "its question is none",
            "question=", False),
    Planted("an input from a column that is none", DECLARED, f'{DECLARED}, same_as="builds.no_such_g"', "same_as",
            "neither a column nor a listing", "mass_g: float"),
    # Charts, checks
    _drawing("a chart of a table that is none", "SELECT name AS x FROM nowhere", "no such table: nowhere"),
    _drawing("a chart with a slip in its sql", "SELECT name AS x FRM cars", "syntax error"),
    _drawing("a chart that deletes", "DELETE FROM cars", "its sql cannot be asked"),
    _drawing("a chart of two statements", "SELECT 1 AS x; SELECT 2 AS x", "its sql cannot be asked"),
    _drawing("a chart of a column that its sql lacks", "SELECT name FROM cars", "its columns name 'x'"),
    Planted("a chart whose sql comes to no end", DREW, f'sql="{_COUNTING} SELECT max(x) AS x FROM c")', "chart_fails",
            "its sql comes to no end", "CHART = Chart("),
    Planted("a chart of more rows than are drawn", DREW, f'sql="{_COUNTING} SELECT x FROM c LIMIT 6000")',
            "chart_too_long", "gives over 5000 rows where no record is yet", "CHART = Chart(", False),
    Planted("a chart that cannot be made", POINTS, "    return [{'x': 1 / 0}]", "chart_fails", "ZeroDivisionError",
            "1 / 0"),
    Planted("a chart that draws nothing known", '{"mark": "point"}', '{"mark": "pointy"}', "left_out",
            "its spec cannot be drawn", "CHART = Chart("),
    Planted("a check that fails", "bevelbook_checks(reader):\n    return ()",
            "bevelbook_checks(reader):\n    return 1 / 0", "check_fails", "ZeroDivisionError", "return 1 / 0"),
    Planted("a check that finds rubbish", "bevelbook_checks(reader):\n    return ()",
            "bevelbook_checks(reader):\n    return ('oil!',)", "check_fails", "is not a Finding",
            "def bevelbook_checks"),
)  # fmt: skip
ENDING: Final = (
    _computing("os._exit", "import os; os._exit(7)", "ends", "compute ended the process", line="DOUBLING = "),
    Planted("os._exit at its import", "ARITHMETIC = S", "import os; os._exit(7)\nARITHMETIC = S", "ends",
            "the import ended the process", ""),
    _computing("endless", "import time; time.sleep(600)", "too_slow", "compute took over 2 s and was stopped"),
    Planted("endless at its import", "ARITHMETIC = S", "import time; time.sleep(600)\nARITHMETIC = S", "too_slow",
            "the import took over 3 s and was stopped", "time.sleep(600)"),
)  # fmt: skip
"""What ends the process, each of which costs another one."""
