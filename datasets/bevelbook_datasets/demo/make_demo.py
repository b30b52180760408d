"""Write every file of the invented demo beside this one: ``python make_demo.py``. The same bytes every time.

The numbers come from one table of generators, in ``plan.py`` and ``world.py``; nothing was measured on a real diff.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Final

from bevelbook_datasets.demo import bench_times, benchwork, notes, parts_box, race_days, stock
from bevelbook_datasets.demo.plan import INVENTED
from bevelbook_datasets.demo.stock import Rows

TABLES: Final[tuple[Callable[[], Rows], ...]] = (
    stock.people,
    stock.cars,
    stock.venues,
    race_days.events,
    race_days.event_cars,
    stock.scales,
    stock.seals,
    stock.diffs,
    stock.fluids,
    stock.bottles,
    stock.fluid_comparisons,
    stock.limits,
    stock.ideas,
    parts_box.stock_parts,
    parts_box.kit_parts,
    parts_box.stock_changes,
    parts_box.bottle_checks,
    parts_box.job_times,
    benchwork.builds,
    benchwork.blend_parts,
    benchwork.seal_fittings,
    benchwork.build_parts,
    benchwork.build_shims,
    benchwork.weighings,
    benchwork.openings,
    benchwork.runs,
    benchwork.run_diffs,
    race_days.car_diffs,
    race_days.car_values,
    bench_times.bench_jobs,
    bench_times.bench_steps,
)
"""Named after the tables that they fill."""


def table_text(rows: Rows) -> str:
    """A table as CSV: a first line that says where it comes from, and a column for every value that any row has."""
    columns = list(dict.fromkeys(name for row in rows for name in row))
    text = StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows({name: _shown(name, value) for name, value in row.items()} for row in rows)
    return f"# {INVENTED}\n{text.getvalue()}"


def _shown(name: str, value: object) -> object:
    if isinstance(value, float):
        return f"{value:.2f}" if name.endswith(("mass_g", "_five_s", "_lap_s")) else f"{value:g}"
    return value


def files() -> dict[str, bytes]:
    """Every generated file by its path in this folder."""
    texts = {name: make() for name, make in notes.TEXTS.items()}
    texts |= {f"records/{make.__name__}.csv": table_text(make()) for make in TABLES}
    return {name: text.encode() for name, text in texts.items()}


def main() -> None:
    here = Path(__file__).parent
    for name, content in files().items():
        path = here / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(content)


if __name__ == "__main__":
    main()
