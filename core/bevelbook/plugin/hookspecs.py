"""The hooks that a plugin may implement. Each is called for one plugin at a time, by ``registry``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import pluggy

if TYPE_CHECKING:
    from bevelbook.declare.units import Unit
    from bevelbook.plugin.calculator import Calculator
    from bevelbook.plugin.chart import Chart
    from bevelbook.plugin.check import Finding, Reader
    from bevelbook.plugin.profile import Profile
    from bevelbook.reference import DataSet

PROJECT = "bevelbook"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def bevelbook_units() -> Iterable[Unit]:  # type: ignore[empty-body]
    """The units that this plugin adds: any field may then be declared in them, its own calculators' among them.

    Asked first, as the plugin is loaded, so that one file may hold a unit and the calculator that uses it. Each is a
    ``Unit``. A field of that plugin, or of any other, is then ``pace_furlong_min: float = quantity("furlong/min",
    "Pace")``; people type ``9``, ``9 furlong/min`` or ``60 knots`` for it. One that clashes with a known unit is left
    out and named.

    ::

        from bevelbook import Unit, factor_by_pint, hookimpl


        @hookimpl
        def bevelbook_units():
            return (
                Unit("furlong/min", "a speed", 201.168 / 60, "_furlong_min", ucum="[fur_us]/min"),
                Unit("knot", "a speed", factor_by_pint("knot", "meter/second"), any_case="kn knots"),
            )
    """


@hookspec
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:  # type: ignore[empty-body]
    """The calculators that this plugin offers.

    Asked once, as the plugin is loaded. Each is a ``Calculator``: a record of inputs, one of outputs, and pure
    functions between them. It then has a command, a form, rows of its own, a batch, an uncertainty and a place in every
    export, and is on the card and kept after a record where it says so.

    ::

        from bevelbook import Calculator, Judgement, Source, Worked, hookimpl, quantity, record

        ARITHMETIC = Source("computed", "two times three is six")


        @record
        class Given:
            mass_g: float = quantity("g", "A mass", minimum=0)


        @record
        class Found:
            double_g: float = quantity("g", "Twice that mass")


        DOUBLING = Calculator(
            name="doubling",
            title="Doubling",
            question="What is twice that mass?",
            purpose="twice a mass",
            version=1,
            given=Given,
            found=Found,
            compute=lambda given: Found(double_g=2 * given.mass_g),
            judge=lambda given, found: Judgement("ok", (f"twice that is {found.double_g:g} g",)),
            working=lambda given, found: (f"2 × {given.mass_g:g} g = {found.double_g:g} g",),
            valid=("any mass",),
            sources=(ARITHMETIC,),
            worked=(Worked({"mass_g": "3 g"}, {"double_g": 6.0}, 0.0, ARITHMETIC),),
            answer="double_g",
        )


        @hookimpl
        def bevelbook_calculators():
            return (DOUBLING,)
    """


@hookspec
def bevelbook_datasets() -> Iterable[DataSet]:  # type: ignore[empty-body]
    """The reference tables that this plugin brings; every row names its source.

    Each is a ``DataSet``: a CSV file with a column ``source``, whose keys stand in the file ``citations.csv`` beside it
    with how each was seen. The page of the reference tables lists it, with all rows and their sources. One with a row
    without a source is left out and named.

    ::

        from pathlib import Path

        from bevelbook import DataSet, hookimpl

        HERE = str(Path(__file__).parent)


        @hookimpl
        def bevelbook_datasets():
            return (DataSet("syringes", "Our syringes", HERE, "syringes.csv"),)

    The table, ``syringes.csv``::

        size_ml,push_g,source
        5,0.5,ours

    Its sources, ``citations.csv``::

        key,kind,title,publisher,year,where,seen
        ours,computed,weighed by the team,,,,
    """


@hookspec
def bevelbook_checks(reader: Reader) -> Iterable[Finding]:  # type: ignore[empty-body]
    """The findings of this plugin about the database, which it may only read.

    Asked at every check. 'bevelbook check' and the page of what is worth a look show what it finds and whose it is, and
    a person may put a finding by. A finding about no row of the database is left out and named.

    reader  a ``Reader``: ``reader.rows(sql)`` gives the rows of one SELECT, each as a dict. Name the columns that you
            read; 'bevelbook help tables' says which are promised

    ::

        from bevelbook import about_build, hookimpl


        @hookimpl
        def bevelbook_checks(reader):
            rows = reader.rows("SELECT id build, label FROM builds WHERE dry_mass_g IS NULL ORDER BY id")
            for build in rows:
                yield about_build(
                    build,
                    "no_dry_mass",
                    "worth a look",
                    "was not weighed dry, so the reading does not say how much oil is in it",
                    "Weigh it dry at the next rebuild: bevelbook record build ... dry_mass=",
                )
    """


@hookspec
def bevelbook_charts() -> Iterable[Chart]:  # type: ignore[empty-body]
    """The charts that this plugin offers: each drawn on a page, with its rows as a table.

    Each is a ``Chart``: rows from a SELECT, from a function, or from one input of a calculator moved over a range, and
    how they are drawn, in Vega-Lite without data. One that the schema cannot answer, or that cannot be drawn, is left
    out and named.

    ::

        from bevelbook import Chart, hookimpl

        FILLS = Chart(
            name="fills-by-day",
            title="Fills by day",
            about="The oil that went into each build.",
            columns=(("built_on", "Day"), ("label", "Build"), ("oil_in_g", "Oil [g]")),
            spec={
                "mark": {"type": "point", "tooltip": True},
                "encoding": {
                    "x": {"field": "built_on", "type": "temporal", "title": "Day"},
                    "y": {"field": "oil_in_g", "type": "quantitative", "title": "Oil [g]"},
                },
            },
            sql=(
                "SELECT b.built_on, b.label, f.oil_in_g FROM builds b "
                "JOIN build_facts f ON f.build = b.id "
                "WHERE f.oil_in_g IS NOT NULL ORDER BY b.built_on, b.label, b.id"
            ),
        )


        @hookimpl
        def bevelbook_charts():
            return (FILLS,)
    """


@hookspec
def bevelbook_profiles() -> Iterable[Profile]:  # type: ignore[empty-body]
    """The profiles for imports that this plugin brings: what a team, or a language, writes above its sheets.

    Each is a ``Profile``: a YAML file as 'bevelbook import FILE --write-profile NEW.yaml' writes one, under a name.
    'bevelbook import FILE --profile NAME' then takes that name, and the page that brings a file in lists it. One with a
    fault is left out and named, with the line.

    ::

        from pathlib import Path

        from bevelbook import Profile, hookimpl

        HERE = str(Path(__file__).parent)


        @hookimpl
        def bevelbook_profiles():
            return (Profile("our-sheet", "The sheet on our bench", HERE, "our_sheet.yaml"),)

    The profile, ``our_sheet.yaml``::

        columns:
          "empty": "dry_mass_g"
          "poured": "oil_mass_g"
        options:
          decimal: ","
    """
