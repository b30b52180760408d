"""Core rests on no plugin's names: with every output of every bundled calculator renamed, it shows the same.

Each calculator gets a twin whose outputs bear other names; what the calculator itself hands over (judgement, working,
lines of the card) goes through the old ones, as its author would have written it with the new names.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from browser_team import make_team, site_over
from card_team import make_bare_build, make_full_build
from conftest import FIXED_NOW

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.recalculate import recalculate_for
from bevelbook.calculating.result_text import result_lines
from bevelbook.card.build_card import card_of
from bevelbook.card.procedure import bundled_procedure
from bevelbook.declare.fields import fields_of
from bevelbook.formulas.fill_target import FILL
from bevelbook.plugin.calculator import Calculator, Worked
from bevelbook.plugin.hookspecs import hookimpl
from bevelbook.plugin.registry import Origin, Registry, load
from bevelbook.reports.compare import compare
from bevelbook.store.writing import Writer
from bevelbook.web.pages.calc import _example
from bevelbook.web.shared.drawing import charts_of, gathered

RENAMED = "as_renamed_"
BUNDLED = [offered.calculator for offered in load().calculators.values()]


def renamed(name: str) -> str:
    """The other name of an output; units stay at the end of a name."""
    return RENAMED + name


def twin(one: Calculator[Any, Any]) -> Calculator[Any, Any]:
    """A calculator that computes and says the same, with every output under another name."""
    found = _renamed_record(one.found)

    def back(out: Any) -> Any:
        return one.found(**{field.name: getattr(out, renamed(field.name)) for field in fields_of(one.found)})

    def through(function: Callable[[Any, Any], Any] | None) -> Callable[[Any, Any], Any] | None:
        return None if function is None else lambda given, out: function(given, back(out))

    def compute(given: Any) -> Any:
        made = one.compute(given)
        return found(**{renamed(field.name): getattr(made, field.name) for field in fields_of(one.found)})

    card = one.card and one.card._replace(
        lines=through(one.card.lines),
        passes=through(one.card.passes),
        picture_words=through(one.card.picture_words),
    )
    return Calculator(
        name=one.name,
        title=one.title,
        question=one.question,
        purpose=one.purpose,
        version=one.version,
        given=one.given,
        found=found,
        compute=compute,
        judge=through(one.judge),  # type: ignore[arg-type]
        working=through(one.working),  # type: ignore[arg-type]
        valid=one.valid,
        sources=one.sources,
        worked=tuple(_renamed_example(worked) for worked in one.worked),
        answer=renamed(one.answer),
        cautions=("oil-hot",),
        one_of=one.one_of,
        picture=through(one.picture),
        of=one.of,
        card=card,
        kept_after=one.kept_after,
        page=one.page,
        for_conditions=one.for_conditions,
        for_forecast=one.for_forecast,
        of_a_pair=one.of_a_pair,
    )


def _renamed_record(cls: type[Any]) -> type[Any]:
    fields = tuple(
        field._replace(
            name=renamed(field.name),
            own_part_of=tuple(map(renamed, field.own_part_of)),
            **{
                link: renamed(target)
                for link in ("uncertainty_of", "low_of", "high_of")
                if (target := getattr(field, link)) is not None
            },
        )
        for field in fields_of(cls)
    )
    body: dict[str, Any] = {"__slots__": tuple(field.name for field in fields), "fields": fields}
    made: Any = type(f"Twin{cls.__name__}", (cls.__mro__[1],), body)
    made._slots = tuple((field.name, field.default, getattr(made, field.name).__set__) for field in fields)
    result: type[Any] = made
    return result


def _renamed_example(worked: Worked) -> Worked:
    return worked._replace(expected={renamed(name): value for name, value in worked.expected.items()})


@pytest.fixture(scope="module")
def twins() -> Registry:
    """The twins alone, with the bundled charts, which draw some of them by name."""
    from bevelbook_plugins import charts

    @hookimpl
    def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
        return [twin(one) for one in BUNDLED]

    module = ModuleType("twins")
    module.bevelbook_calculators = bevelbook_calculators  # type: ignore[attr-defined]
    module.bevelbook_charts = charts.bevelbook_charts  # type: ignore[attr-defined]
    registry = Registry()
    registry.add(module, Origin("twins", "twins.py"))
    assert not registry.failures
    assert set(registry.calculators) == {one.name for one in BUNDLED}
    return registry


@pytest.fixture
def builds(connection: sqlite3.Connection, writer: Writer) -> tuple[str, str]:
    """One build of which all is known and one of which nothing is."""
    bare = make_bare_build(writer)
    return make_full_build(writer), bare


def test_a_twin_has_no_output_of_the_old_name(twins: Registry) -> None:
    for one in BUNDLED:
        names = {field.name for field in twins.calculator(one.name).calculator.outputs}
        assert names
        assert not names & {field.name for field in one.outputs}


def test_the_card_is_the_same_to_the_letter(
    connection: sqlite3.Connection, registry: Registry, twins: Registry, builds: tuple[str, str]
) -> None:
    """Except where a step is about the stop mass: a twin with other outputs is not the formula of core any more."""
    of_core = {offered.calculator.name for offered in registry.resting_on(FILL)}
    steps_of_core = {step.key for step in bundled_procedure().steps if of_core & set(step.calculators)}
    for build in builds:
        card, other = card_of(connection, registry, build), card_of(connection, twins, build)
        assert card._replace(steps=()) == other._replace(steps=())
        for step, twin_step in zip(card.steps, other.steps, strict=True):
            assert step._replace(see=()) == twin_step._replace(see=())
            assert step.see == twin_step.see or step.key in steps_of_core


def test_upkeep_says_the_same_of_every_kind_of_record(
    connection: sqlite3.Connection, registry: Registry, twins: Registry, builds: tuple[str, str]
) -> None:
    said = []
    for loaded in (registry, twins):
        kept = [
            one
            for kind in ("build", "seal_fitting", "seal", "weighing", "run", "scale")
            for (row_id,) in connection.execute(f"SELECT id FROM {kind}s")
            for one in recalculate_for(connection, loaded, kind, row_id, "ana", FIXED_NOW).worked_out
        ]
        said.append([one.line() for one in kept])
    assert said[0] == said[1] != []


def test_two_builds_compare_the_same(
    connection: sqlite3.Connection, registry: Registry, twins: Registry, builds: tuple[str, str]
) -> None:
    first, second = (list(compare(connection, *builds, loaded).lines()) for loaded in (registry, twins))
    assert first == second


@pytest.mark.parametrize("name", [one.name for one in BUNDLED])
def test_its_page_its_lines_and_its_charts_work_by_the_declaration_alone(twins: Registry, name: str) -> None:
    calculator = twins.calculator(name).calculator
    result = run(calculator, bind(calculator, calculator.worked[0].given))
    assert "as renamed" in "\n".join(result_lines(result, explain=True))
    assert _example(calculator)
    for chart in charts_of(twins, name):
        assert gathered(chart, twins, (), result.bound.given).title


def test_a_chart_of_an_output_that_is_gone_is_named_and_left_out(registry: Registry, twins: Registry) -> None:
    gone = {chart.name for chart in registry.charts()} - {chart.name for chart in twins.charts()}
    assert gone
    assert any("which the calculator viscosity does not have" in one.reason for one in twins.failures)


def test_the_pages_answer(twins: Registry, tmp_path: Path) -> None:
    team = make_team(tmp_path / "team.db")
    ids = team.ids
    with site_over(team.path, twins) as site:
        page = site.page(f"/team/-/build/{ids['rear-a/2']}")
        assert "/team/-/calc/fill-target?for=build%3Arear-a%2F2" in page
        for path in (
            f"card/{ids['rear-a/2']}",
            f"diff/{ids['rear-a']}",
            f"fluid/{ids['seven']}",
            f"venue/{ids['field']}",
            "worked?grip=low&track=36",
            "compare?a=rear-a/1&b=rear-a/2",
            "charts",
            *(f"calc/{name}?for=rear-a/2" for name in twins.calculators),
            *(f"chart/{chart.name}" for chart in twins.charts()),
        ):
            assert '<html lang="en">' in site.page(f"/team/-/{path}"), path
