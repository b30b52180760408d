"""The plan for an event to which 200 cars with 400 diffs go: what it takes of the processor, beside one of 2 and of 20.

The team is constructed (``tests/planning/teams.py`` has how): each car has a diff at the front and one at the rear,
with days of runs behind them, weighed after each; of every tenth car both lose oil.

Run by hand:  python tests/benchmarks/bench_plan.py [--cars 200] [--turns 3]
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from datetime import date
from pathlib import Path

from bevelbook.planning.plan import make_plan
from bevelbook.plugin.registry import load
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.measured import Table, Taken, here, in_turn, middle
from constructed import adding
from planning.teams import Yard

AT_MOST_S = 1.5
TODAY = date(2026, 6, 1)
PLACES = ("front", "rear")
FULL_G = 22.40


def filled(path: Path, cars: int) -> str:
    """A database with a team of so many cars before an event; the event's id."""
    connection = new_database(path)
    with transaction(connection, path):
        yard = Yard(adding(Writer(connection, None)))
        for number in range(cars):
            name = f"car {number:03d}"
            for place in PLACES:
                label = f"{place}-{number:03d}"
                build = yard.fresh(label, car=name)
                lost_g = 0.02 if number % 10 == 0 else 0.0
                for day in range(1, 4):
                    runs = 3.0 + number % 5
                    yard.run(build, f"2026-03-{day:02d}", runs, car=name, at=place)
                    yard.weigh(build, day * runs, round(FULL_G - lost_g * day, 2), weighed_on=f"2026-03-{day:02d}")
        event = yard.event()
    connection.close()
    return event


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cars", type=int, default=200)
    asked.add_argument("--turns", type=int, default=3)
    given = asked.parse_args()
    registry = load()
    table = Table()
    with tempfile.TemporaryDirectory() as folder:
        for cars in sorted({2, 20, given.cars}):
            path = Path(folder) / f"{cars}.db"
            event = filled(path, cars)

            def planned(path: Path = path, event: str = event, cars: int = cars) -> Taken:
                def once() -> None:
                    connection = open_for_reading(path)
                    made = make_plan(connection, registry, event, TODAY)
                    assert len(made.cars) == cars
                    connection.close()

                return here(once)

            taken = in_turn({f"plan of {cars} cars": planned}, given.turns, first_left_out=True)
            table.figure(
                "plan of an event",
                f"{2 * cars} diffs in {cars} cars",
                "",
                middle(taken[f"plan of {cars} cars"]).processor_s,
                " s of processor",
                AT_MOST_S,
            )
    table.end()


if __name__ == "__main__":
    main()
