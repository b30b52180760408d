"""Each calculator that takes the day of a row reads it in the same way, typed or from a CSV file.

Constructed: the same rows with each day written in one way, and in several.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import cycle
from pathlib import Path
from typing import NamedTuple

import pytest
from conftest import Outcome

from bevelbook.calculating.calculate import bind, run
from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import fields_of
from bevelbook.plugin.registry import Registry


class Typed(NamedTuple):
    """Rows of a listing as they are typed, with ``DAY`` where the day goes, two rows a day; and the other inputs."""

    listing: str
    rows: tuple[str, ...]
    more: dict[str, str]


TYPED = {
    "oil-choice": Typed(
        "past",
        tuple(f"low:3{place}:{oil}:{call}:DAY" for place, (oil, call) in enumerate(8 * [(5000, "keep")])),
        {"grip": "low", "temperature_c": "30"},
    ),
    "expected-temperature": Typed(
        "past", tuple(f":{20 + place}:{40 + place + place % 3}:DAY" for place in range(20)), {"track_temp_c": "25"}
    ),
    "run-comparison": Typed(
        "runs",
        tuple(f"{'abba'[place % 4]}:{place % 4 + 1}:{15 + place * place % 7 / 10}:DAY" for place in range(8)),
        {},
    ),
    "leak-trend": Typed(
        "weighings",
        tuple(f"{place}:{22.34 - place / 100:.2f}:::DAY:0.01" for place in range(8)),
        {"scale_step_g": "0.01", "repeatability_g": "0.005"},
    ),
    "scale-check": Typed("readings", tuple(f"20.0{place % 3}:DAY" for place in range(12)), {"scale_step_g": "0.01"}),
}
DATES = [f"2026-05-{day}" for day in range(13, 23)]
SPELLED = ("{d}.5.2026", "{d}/5/26", "{d} May 2026", "May {d}, 26", "2026/5/{d}", "2026-05-{d}")


def written(rows: Sequence[str], days: Sequence[str]) -> list[str]:
    return [row.replace("DAY", day) for row, day in zip(rows, days, strict=False)]


def in_one_way(rows: Sequence[str]) -> list[str]:
    return written(rows, [day for day in DATES for _ in range(2)])


def in_several_ways(rows: Sequence[str]) -> list[str]:
    ways = cycle(SPELLED)
    return written(rows, [next(ways).format(d=day[-2:]) for day in DATES for _ in range(2)])


def numbered(rows: Sequence[str], numbers: Sequence[str]) -> list[str]:
    return written(rows, [number for number in numbers for _ in range(2)])


@pytest.mark.parametrize("name", TYPED)
def test_one_day_written_in_several_ways_counts_once(name: str, registry: Registry) -> None:
    typed, calculator = TYPED[name], registry.calculator(name).calculator
    one, several, apart = (
        run(calculator, bind(calculator, {**typed.more, typed.listing: rows}, {})).as_dict()
        for rows in (
            in_one_way(typed.rows),
            in_several_ways(typed.rows),
            written(typed.rows, [f"day {place // 3}" for place in range(20)]),
        )
    )
    assert several == one
    assert apart["outputs"] != one["outputs"]


@pytest.mark.parametrize("name", TYPED)
def test_a_number_or_a_word_names_a_day_without_case(name: str, registry: Registry) -> None:
    typed, calculator = TYPED[name], registry.calculator(name).calculator
    numbers = [str(place) for place in range(1, 11)]
    one, same = (
        run(calculator, bind(calculator, {**typed.more, typed.listing: rows}, {})).as_dict()["outputs"]
        for rows in (
            numbered(typed.rows, numbers),
            written(typed.rows, [spelled for number in numbers for spelled in (number, f" 0{number}")]),
        )
    )
    assert same == one
    names = [chr(ord("a") + place) for place in range(10)]
    lower, mixed = (
        run(calculator, bind(calculator, {**typed.more, typed.listing: rows}, {})).as_dict()["outputs"]
        for rows in (
            numbered(typed.rows, names),
            written(typed.rows, [spelled for letter in names for spelled in (letter, f" {letter.upper()}")]),
        )
    )
    assert mixed == lower


@pytest.mark.parametrize("name", TYPED)
def test_a_date_that_may_be_two_days_is_refused_with_its_place(name: str, registry: Registry) -> None:
    typed, calculator = TYPED[name], registry.calculator(name).calculator
    rows = in_one_way(typed.rows)
    rows[2] = typed.rows[2].replace("DAY", "1/5/26")
    with pytest.raises(InputError) as raised:
        bind(calculator, {**typed.more, typed.listing: rows}, {})
    assert (raised.value.code, raised.value.place.item) == ("ambiguous_date", 3)
    assert str(raised.value.remedy) == "Write it as 2026-05-01 (day first) or 2026-01-05 (month first)."


@pytest.mark.parametrize("name", TYPED)
def test_a_csv_file_is_read_in_the_same_way(
    name: str, registry: Registry, bevelbook: Callable[..., Outcome], tmp_path: Path
) -> None:
    typed, calculator = TYPED[name], registry.calculator(name).calculator
    listing = next(field for field in calculator.inputs if field.name == typed.listing)
    columns = [field.name for field in fields_of(listing.item)]
    more = [word for name, value in typed.more.items() for word in (_option(calculator.inputs, name), value)]
    answers = []
    for place, rows in enumerate((in_one_way(typed.rows), in_several_ways(typed.rows))):
        path = tmp_path / f"{place}.csv"
        cells = [[f'"{cell}"' for cell in row.split(":")] for row in rows]
        path.write_text("\n".join(",".join(line) for line in (columns[: len(cells[0])], *cells)) + "\n")
        words = [f"--{typed.listing}-file", path, "--json"]
        answers.append(bevelbook("calc", name, *more, *words).json["outputs"])
    assert answers[0] == answers[1]


def _option(inputs: Sequence[object], name: str) -> str:
    return next(field.option for field in inputs if getattr(field, "name", "") == name)  # type: ignore[attr-defined]
