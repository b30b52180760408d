"""A plugin is examined before it is used: each fault with line and remedy. All plugins are invented."""

from __future__ import annotations

from pathlib import Path

from bevelbook.examining.examined import all_examined

DOUBLING = '''"""Twice a mass, as an example."""
from bevelbook import Calculator, Judgement, Source, Worked, hookimpl, quantity, record

ARITHMETIC = Source("computed", "two times three is six")

@record
class Given:
    mass_g: float = quantity("g", "A mass", minimum=0)

@record
class Found:
    double_g: float = quantity("g", "Twice that mass")

def compute(given):
    return Found(double_g=2 * given.mass_g)

DOUBLING = Calculator(
    name="doubling", title="Doubling", question="What is twice that mass?", purpose="twice a mass", version=1,
    given=Given, found=Found, compute=compute,
    judge=lambda given, found: Judgement("ok", (f"twice that is {found.double_g:g} g",)),
    working=lambda given, found: (f"2 x {given.mass_g:g} g = {found.double_g:g} g",),
    valid=("any mass",), sources=(ARITHMETIC,),
    worked=(Worked({"mass_g": "3 g"}, {"double_g": 6.0}, 0.0, ARITHMETIC),),
    answer="double_g",
)

@hookimpl
def bevelbook_calculators():
    return (DOUBLING,)
'''


def test_a_sound_plugin_has_no_flaw_and_a_wrong_example_is_named_with_its_line(tmp_path: Path) -> None:
    good, wrong = tmp_path / "good.py", tmp_path / "wrong.py"
    good.write_text(DOUBLING, encoding="utf-8")
    wrong.write_text(DOUBLING.replace('"double_g": 6.0', '"double_g": 7.0'), encoding="utf-8")
    none, (flaw,) = all_examined([good, wrong])
    assert none == ()
    assert (flaw.code, flaw.file, flaw.line, flaw.is_serious) == ("example_wrong", str(wrong), 23, True)
    assert "gives 6 g for double_g, and 7 g is expected" in flaw.what
    assert flaw.remedy
