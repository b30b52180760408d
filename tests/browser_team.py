"""A small invented team in a database, with notes that try to break a page, and a Datasette over it."""

from __future__ import annotations

import asyncio
import hashlib
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple

from quick_datasettes import make_datasettes_quick

from bevelbook.display.unbroken import NO_BREAK
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.closed_file import write_closed
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.host.serve import datasette_for

make_datasettes_quick()

HOSTILE = (
    '<script>document.title="owned"</script><img src=x onerror=document.title="owned"> '
    "'; DROP TABLE builds; -- {{7*7}} {% raw %} " + "long " * 20_000
)
"""HTML, script, SQL, template code, and over 100,000 characters."""
NOW = "2026-05-04T10:00:00.000Z"


class Team(NamedTuple):
    """The ids that tests ask for by name."""

    path: Path
    ids: dict[str, str]

    @property
    def stem(self) -> str:
        return self.path.stem


def make_team(path: Path, note: str = HOSTILE) -> Team:
    """Three diffs, five builds, eight runs at two venues, and what belongs to them; some have that note.

    A short one is for tests that check the whole file, since each word of a note is compared with the search then.
    """
    held, ids = _made(note)
    write_closed(path, held)
    return Team(path, dict(ids))


@cache
def _made(note: str) -> tuple[bytes, dict[str, str]]:
    """The file of that team, made once for a process, and the ids of its records."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "team.db"
        connection = new_database(path)
        with transaction(connection, path):
            ids = _fill(Writer(connection, "ana", lambda: NOW), note)
        connection.close()
        return path.read_bytes(), ids


def _fill(writer: Writer, long_note: str) -> dict[str, str]:
    ids: dict[str, str] = {}

    def add(key: str, kind_name: str, **values: object) -> str:
        ids[key] = writer.insert(BY_NAME[kind_name], values)
        return ids[key]

    ana = add("ana", "person", name="ana")
    hall = add("hall", "venue", name="Tannery Hall", surface="carpet", indoor="yes")
    field = add("field", "venue", name="Brickfield", surface="asphalt", indoor="no", note=long_note)
    fine = add("fine", "scale", name="pocket", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.0)
    coarse = add("coarse", "scale", name="kitchen", step_g=0.1)
    seven = add("seven", "fluid", label="7,000", viscosity_cst=7000.0, viscosity_source="its label")
    add("thick", "fluid", label="500,000", viscosity_cst=500_000.0, viscosity_source="its label")
    ten = add("ten", "fluid", label="10,000", viscosity_cst=10000.0, viscosity_source="its label")
    add("evil fluid", "fluid", label=long_note[:200], note=long_note)
    own = add("own", "bottle", fluid=seven, lot="second", viscosity_cst=6150.0, viscosity_uncertainty_cst=150.0)
    plain = add("plain", "bottle", fluid=ten)
    ring = add("ring", "seal", label="shaft ring 5 x 2", inside_diameter_mm=5.0, section_mm=2.0, material="NBR")
    add("idea", "idea", text="Try 15,000 in the rear on dust", venue=field, noted_on="2026-05-02")
    diffs = {
        name: add(name, "diff", label=name, usual_position="rear", housing_material="aluminium")
        for name in ("rear-a", "rear-b", "front-a")
    }
    builds = (
        ("rear-a/1", "rear-a", "2026-03-03", seven, own, coarse, 12.4, "smooth", None),
        ("rear-a/2", "rear-a", "2026-04-03", ten, plain, fine, 12.42, "smooth", long_note),
        ("rear-b/1", "rear-b", "2026-03-03", seven, own, fine, 12.38, "notchy", "grooved shaft, new rings"),
        ("rear-b/2", "rear-b", "2026-04-03", ten, plain, fine, 12.38, "smooth", "quince"),
        ("front-a/1", "front-a", "2026-04-03", seven, None, None, None, None, None),
    )
    for label, diff, day, fluid, bottle, scale, dry, feel, note in builds:
        oil = {"oil_mass_g": 1.86, "filled_mass_g": round(dry + 1.86, 2), "closed_mass_g": 22.4} if dry else {}
        add(
            label,
            "build",
            label=label,
            diff=diffs[diff],
            built_on=day,
            kind="rebuild",
            builder=ana,
            fluid=fluid,
            bottle=bottle,
            scale=scale,
            dry_mass_g=dry,
            mass_basis="open half" if dry else None,
            hand_feel=feel,
            note=note,
            **oil,
        )
        add(f"seal {label}", "seal_fitting", build=ids[label], place="case-side shaft", seal=ring, condition="new")
    for number, (label, venue, grip, track, call) in enumerate(
        (
            ("rear-a/1", hall, "high", 20.0, "keep"),
            ("rear-a/1", field, "low", 38.0, "change"),
            ("rear-b/1", field, "low", 36.5, "keep"),
            ("rear-b/1", field, "low", 41.0, "undecided"),
            ("rear-a/2", hall, "high", 21.0, "keep"),
            ("rear-a/2", field, "medium", 33.0, "keep"),
            ("rear-b/2", field, "low", 37.0, "keep"),
            ("rear-b/2", hall, "high", 19.5, "change"),
        ),
        start=1,
    ):
        day = "2026-03-11" if number <= 4 else f"2026-04-1{number % 5}"
        run = add(
            f"run {number}",
            "run",
            label=f"{day}/{number}",
            run_on=day,
            day_order=number,
            venue=venue,
            driver=ana,
            grip=grip,
            track_temp_c=track,
            air_temp_c=24.0,
            runs=3.0,
            best_five_s=15.6 + 0.01 * number,
            call=call,
            note=long_note if number == 2 else "steady, <b>bold</b> exit",
        )
        temperature = 33.0 if number % 2 else None
        add(f"in {number}", "run_diff", run=run, build=ids[label], position="rear", diff_temp_c=temperature)
    for label, mass in (("rear-a/2", 22.38), ("rear-b/1", 22.05), ("rear-b/2", 22.39)):
        add(
            f"weighing {label}",
            "weighing",
            build=ids[label],
            weighed_on="2026-04-20",
            mass_g=mass,
            mass_basis="closed",
            scale=fine,
            runs=6.0,
        )
    for label in ("rear-a/1", "rear-b/1"):
        add(f"opening {label}", "opening", build=ids[label], opened_on="2026-04-02", reason="routine", oil="grey")
    return ids


def content_of(path: Path) -> str:
    """A hash of all that a database holds, and of its bytes."""
    with sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True) as connection:
        dump = "\n".join(connection.iterdump())
    connection.close()
    return hashlib.sha256(dump.encode() + path.read_bytes()).hexdigest()


class Site:
    """A Datasette, asked page by page."""

    def __init__(self, datasette: Any) -> None:
        self.datasette = datasette

    def get(self, path: str, **more: Any) -> Any:
        """The answer to a request. A question in SQL may be answered at another address, and is followed there."""
        if "sql=" in path or "sql" in more.get("params", {}):
            more.setdefault("follow_redirects", True)

        async def ask() -> Any:
            await self.datasette.invoke_startup()
            return await self.datasette.client.get(path, **more)

        return asyncio.run(ask())

    def page(self, path: str, *, status: int = 200) -> str:
        """The text of a page that has to be there, or is refused, with a plain space between number and unit."""
        answer = self.get(path)
        assert answer.status_code == status, (path, answer.status_code, answer.text[:2000])
        return str(answer.text).replace(NO_BREAK, " ")


@contextmanager
def site_over(path: Path, registry: Registry, **settings: Any) -> Iterator[Site]:
    """A site over one database of ours, closed at the end."""
    datasette = datasette_for(path, registry, **settings)
    try:
        yield Site(datasette)
    finally:
        close(datasette)


def close(datasette: Any) -> None:
    """Give back what a Datasette holds."""
    if datasette.executor is not None:
        datasette.executor.shutdown()
    for database in datasette.databases.values():
        database.close()
