"""One file with a unit, a calculator, a chart, a check and a table that nobody bundles, dropped into a folder.

Invented for tests: how many pushes of a small syringe put the oil in, and how the scale climbs.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from bevelbook.declare.known_units import KNOWN
from bevelbook.plugin.registry import Registry

NAME: Final = "pushes"
TITLE: Final = "Pushes of the syringe"
PLUGIN: Final = """
from math import ceil
from pathlib import Path

from bevelbook import (
    Calculator, CardLine, Chart, Curve, DataSet, Judgement, OnCard, Source, Unit, Worked, about_build, hookimpl,
    listing, quantity, record, whole,
)

ARITHMETIC = Source("computed", "1.86 g in pushes of 0.5 g are three whole ones and one of 0.36 g")


@record
class Given:
    oil_mass_g: float = quantity("g", "The oil to put in", above=0, below=100, same_as="builds.oil_mass_g")
    dry_mass_g: float = quantity("g", "The diff before oil", minimum=0, same_as="builds.dry_mass_g")
    push_g: float = quantity("g", "What one push gives", above=0, below=10, default=0.5)
    pace_pushes_min: float = quantity("pushes/min", "How fast they follow", above=0, below=600, default=12.0)


@record
class Push:
    number: int = whole("Which push")
    on_scale_g: float = quantity("g", "What the scale shows after it")


@record
class Found:
    pushes: int = whole("Pushes in all")
    last_push_g: float = quantity("g", "What the last push gives")
    time_s: float = quantity("s", "How long they take")
    readings: tuple[Push, ...] = listing(Push, "Each push with what the scale shows", default=())


def compute(given):
    pushes = ceil(given.oil_mass_g / given.push_g - 1e-9)
    readings = tuple(
        Push(number=one, on_scale_g=given.dry_mass_g + min(one * given.push_g, given.oil_mass_g))
        for one in range(1, pushes + 1)
    )
    last_push_g = given.oil_mass_g - (pushes - 1) * given.push_g
    return Found(
        pushes=pushes, last_push_g=last_push_g, time_s=60 * pushes / given.pace_pushes_min, readings=readings
    )


def judge(given, found):
    reason = f"{found.pushes} pushes, the last one of {found.last_push_g:.2f} g"
    return Judgement("stop" if found.pushes > 20 else "caution" if found.last_push_g < 0.1 else "ok", (reason,))


PUSHES = Calculator(
    name="pushes",
    title="Pushes of the syringe",
    question="How many pushes of the syringe put the oil in?",
    purpose="pushes of the syringe that put the oil in",
    version=1,
    given=Given,
    found=Found,
    compute=compute,
    judge=judge,
    working=lambda given, found: (f"{given.oil_mass_g:g} g / {given.push_g:g} g, rounded up: {found.pushes}",),
    valid=("pushes that all give the same",),
    sources=(ARITHMETIC,),
    worked=(Worked({"oil_mass_g": "1.86 g", "dry_mass_g": "12.4 g"}, {"pushes": 4.0, "last_push_g": 0.36}, 1e-9,
                   ARITHMETIC),),
    answer="pushes",
    card=OnCard(lines=lambda given, found: (CardLine("Last push", f"{found.last_push_g:.2f} g"),)),
    kept_after=("build",),
    page=("build",),
)
@record
class Lid:
    screw_count: int = whole("Screws of the lid", minimum=1, maximum=20, same_as="diffs.screw_count")


@record
class Spread:
    angle_deg: float = quantity("deg", "From one screw to the next")


SPREAD = Calculator(
    name="screw-spread",
    title="Spread of the screws",
    question="How far is one screw from the next?",
    purpose="angle from one screw of a lid to the next",
    version=1,
    given=Lid,
    found=Spread,
    compute=lambda given: Spread(angle_deg=360 / given.screw_count),
    judge=lambda given, found: Judgement("ok", ("evenly spread",)),
    working=lambda given, found: (f"360° / {given.screw_count}",),
    valid=("screws on one circle",),
    sources=(ARITHMETIC,),
    worked=(Worked({"screw_count": "4"}, {"angle_deg": 90.0}, 1e-9, Source("computed", "a full turn has 360°")),),
    answer="angle_deg",
    of="diff",
    card=OnCard(),
    kept_after=("diff",),
    page=("diff",),
)
CHART = Chart(
    name="pushes-by-size",
    title="Pushes by their size",
    about="How many pushes it takes.",
    columns=(("push_g", "One push [g]"), ("pushes", "Pushes")),
    spec={"mark": "line", "encoding": {"x": {"field": "push_g", "type": "quantitative"},
                                       "y": {"field": "pushes", "type": "quantitative"}}},
    curve=Curve("pushes", "push_g", 0.1, 1.0, ("pushes",), {"oil_mass_g": "1.86 g", "dry_mass_g": "12.4 g"}, points=5),
)


@hookimpl
def bevelbook_units():
    return (Unit("pushes/min", "a pace of pushes", 1.0, "_pushes_min", any_case="push/min", ucum="{push}/min"),)


@hookimpl
def bevelbook_calculators():
    return (PUSHES, SPREAD)


@hookimpl
def bevelbook_charts():
    return (CHART,)


@hookimpl
def bevelbook_checks(reader):
    for row in reader.rows("SELECT id AS build, label FROM builds WHERE label = 'rear-a/2' ORDER BY id"):
        yield about_build(row, "few_pushes", "worth a look", "was filled in few pushes", "Push more gently.")


@hookimpl
def bevelbook_datasets():
    return (DataSet("syringes", "Syringes of the team", str(Path(__file__).parent), "syringes.csv"),)
"""
TABLE: Final = "size_ml,push_g,source\n5,0.5,ours\n"
CITATIONS: Final = "key,kind,title,publisher,year,where,seen\nours,computed,weighed by the team,,,,\n"


def forget_units(registry: Registry) -> None:
    """Have the units of the plugins that are not bundled known no more: the table is one for the process."""
    for origin in registry.plugins_not_bundled():
        KNOWN.take(str(origin), ())


def drop_plugin(folder: Path) -> Path:
    """Put the file and its table into a folder of plugins, and return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in (("pushes.py", PLUGIN), ("syringes.csv", TABLE), ("citations.csv", CITATIONS)):
        (folder / name).write_text(text, encoding="utf-8")
    return folder
