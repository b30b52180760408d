"""What calculators give to the bench for one build: ways to wait for the bubbles, passes over the screws.

Which calculators a step asks is written in the procedure; each declares what it gives
(:class:`bevelbook.plugin.on_bench.OnBench`).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any, NamedTuple, TypeVar

from bevelbook.calculating.for_record import Attempt, PutIn, refusal
from bevelbook.calculating.known import Subject
from bevelbook.card.build_card import BUILD, oil_known_on_card
from bevelbook.card.calculators import attempt_for_card
from bevelbook.declare.errors import PluginFault
from bevelbook.declare.fields import Field
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.on_bench import BenchPass, BenchWait, OnBench
from bevelbook.plugin.registry import Registry
from bevelbook.store.lookup import label_of

T = TypeVar("T")


class BenchWaits(NamedTuple):
    """Ways to wait, why, and what the screen may ask for; ``lacking`` says what is not known, in words."""

    waits: tuple[BenchWait, ...] = ()
    reasons: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    asks: tuple[Field, ...] = ()
    cautions: tuple[str, ...] = ()
    lacking: str = ""


class BenchPasses(NamedTuple):
    """The passes over the screws, first to last, and what is worth a look; ``lacking`` says what is not known."""

    passes: tuple[BenchPass, ...] = ()
    reasons: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    lacking: str = ""


def bench_waits(
    connection: sqlite3.Connection,
    registry: Registry,
    build_id: str,
    calculators: Iterable[str],
    typed: Mapping[str, str],
    said: Collection[str] = (),
) -> BenchWaits:
    """Ways to wait by the first of the named calculators that gives any; ``typed`` are inputs that it asks for,
    ``said`` the cautions that are shown already, by key.

    Never raises for what was typed: ``lacking`` says what is wrong with it.
    """
    asked = _first(registry, calculators, lambda bench: bench.waits)
    if asked is None:
        return BenchWaits()
    calculator, waits_by, bench = asked
    cautions = tuple(
        short
        for key, short in zip(calculator.declared_cautions, calculator.short_cautions, strict=True)
        if key not in said
    )
    asks = tuple(field for field in calculator.inputs if field.name in bench.asks)
    done = _attempt(connection, registry, calculator, build_id, bench, typed)
    waits, lacking = _given_by(done, waits_by)
    if done.answer is None:
        return BenchWaits(asks=asks, cautions=cautions, lacking=lacking)
    judged = done.answer.judgement
    return BenchWaits(waits, judged.reasons, done.answer.findings, asks, cautions, lacking)


def bench_passes(
    connection: sqlite3.Connection, registry: Registry, build_id: str, calculators: Iterable[str]
) -> BenchPasses:
    """The passes over the screws by the first of the named calculators that gives any."""
    asked = _first(registry, calculators, lambda bench: bench.passes)
    if asked is None:
        return BenchPasses()
    calculator, passes_by, bench = asked
    done = _attempt(connection, registry, calculator, build_id, bench, {})
    passes, lacking = _given_by(done, passes_by)
    if done.answer is None:
        return BenchPasses(lacking=lacking)
    return BenchPasses(passes, done.answer.judgement.reasons, done.answer.findings, lacking)


Giving = Callable[[Any, Any], Iterable[T]]


def _first(
    registry: Registry, names: Iterable[str], part: Callable[[OnBench[Any, Any]], Giving[T] | None]
) -> tuple[Calculator[Any, Any], Giving[T], OnBench[Any, Any]] | None:
    for name in names:
        offered = registry.in_force(name)
        bench: OnBench[Any, Any] | None = offered.calculator.bench if offered else None
        gives = part(bench) if bench else None
        if offered is not None and bench is not None and gives is not None:
            return offered.calculator, gives, bench
    return None


def _attempt(
    connection: sqlite3.Connection,
    registry: Registry,
    calculator: Calculator[Any, Any],
    build_id: str,
    bench: OnBench[Any, Any],
    typed: Mapping[str, str],
) -> Attempt[Any, Any]:
    subject = Subject(BUILD, build_id, label_of(connection, BUILD, build_id))
    _, more = oil_known_on_card(connection, registry, build_id)
    given = {name: PutIn(typed[name], "typed") for name in bench.asks if typed.get(name, "").strip()}
    return attempt_for_card(connection, calculator, subject, more, given)


def _given_by(done: Attempt[Any, Any], giving: Giving[T]) -> tuple[tuple[T, ...], str]:
    """What the calculator gives, or why it gives nothing."""
    if done.answer is None:
        return (), f"needs {' and '.join(done.lacking)}" if done.lacking else done.refused or ""
    try:
        return tuple(giving(done.answer.given, done.answer.found)), ""
    except PluginFault as fault:
        return (), refusal(fault)
