"""A small invented team that raced last week, in a database for tests that write to it from a browser.

Its days are counted back from today, so that nothing in it is of a day to come wherever and whenever the tests run.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from bevelbook.records import BY_NAME
from bevelbook.store.ids import now_utc
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer

DAYS_AGO = {"bought": 70, "first builds": 60, "last builds": 20, "raced": 6}


def day(name: str) -> str:
    """One of the team's days, as it is stored."""
    return (date.today() - timedelta(days=DAYS_AGO[name])).isoformat()


def make_entry_team(path: Path, *, was_written: bool = False) -> Path:
    """The blue car with rear-a and front-a in it, both filled, closed and weighed, and spare rear-b.

    ``was_written`` where it is to have been written down on the day on which it raced, not just now.
    """
    path.write_bytes(_made(was_written))
    return path


@cache
def _made(was_written: bool) -> bytes:
    """The file of that team, made once for a process."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "team.db"
        connection = new_database(path)
        with transaction(connection, path):
            _fill(Writer(connection, "ana", (lambda: f"{day('raced')}T12:00:00.000Z") if was_written else now_utc))
        connection.close()
        return path.read_bytes()


def _fill(writer: Writer) -> None:
    def add(kind: str, /, **values: object) -> str:
        return writer.insert(BY_NAME[kind], values)

    ana = add("person", name="ana")
    add("person", name="ben")
    hall = add("venue", name="Lantern Hall", surface="carpet", indoor="yes")
    scale = add("scale", name="bench scale", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.002)
    lid_ring = add(
        "seal", label="lid ring 18x1", inside_diameter_mm=18.0, section_mm=1.0, outside_diameter_mm=20.0, material="NBR"
    )
    shaft_ring = add(
        "seal", label="shaft ring 5x2", inside_diameter_mm=5.0, section_mm=2.0, outside_diameter_mm=9.0, material="NBR"
    )
    seven = add("fluid", label="house 7k", viscosity_cst=7000.0, viscosity_source="its label")
    add("fluid", label="house 10k", viscosity_cst=10000.0, viscosity_source="its label")
    bottle = add("bottle", fluid=seven, lot="grey cap")
    car = add("car", name="blue")
    newest: dict[str, str] = {}
    for name, place, dry_g, closed_g in (
        ("rear-a", "rear", 12.42, 22.36),
        ("rear-b", "rear", 12.38, 22.31),
        ("front-a", "front", 12.10, 21.98),
    ):
        diff = add(
            "diff",
            label=name,
            usual_position=place,
            housing_material="aluminium",
            screw_count=4,
            screw_size="M2 x 8",
            screw_hole="blind",
            joint_seal=lid_ring,
            shaft_seal=shaft_ring,
        )
        for number, when in enumerate(("first builds", "last builds"), start=1):
            build = add(
                "build",
                label=f"{name}/{number}",
                diff=diff,
                built_on=day(when),
                kind="new" if number == 1 else "oil change",
                builder=ana,
                fluid=seven,
                bottle=bottle,
                scale=scale,
                dry_mass_g=dry_g,
                oil_mass_g=1.86,
                filled_mass_g=round(dry_g + 1.86, 2),
                closed_mass_g=closed_g,
                mass_basis="open half",
                screw_torque_nm=0.12,
                hand_feel="smooth",
            )
            for seal_place, seal in (
                ("joint", lid_ring),
                ("case-side shaft", shaft_ring),
                ("lid-side shaft", shaft_ring),
            ):
                add("seal_fitting", build=build, place=seal_place, seal=seal, condition="new", state="ok")
            add("build_shim", build=build, place="behind case-side gear", thickness_mm=0.2, pieces=1)
            if number == 1:
                add("opening", build=build, opened_on=day(when), reason="oil change", oil="grey")
        newest[name] = build
        if name != "rear-b":
            add("car_diff", car=car, position=place, diff=diff, from_on=day("bought"))
    event = add("event", name="club race 3")
    for number in (1, 2, 3):
        run = add(
            "run",
            label=f"{day('raced')}/{number}",
            run_on=day("raced"),
            day_order=number,
            event=event,
            venue=hall,
            car=car,
            driver=ana,
            noted_by=ana,
            grip="medium",
            air_temp_c=19.0,
            track_temp_c=21.0,
            best_five_s=18.4 - 0.05 * number,
            tyres="grey, 32 shore",
            tyre_runs=float(number - 1),
            runs=1.0,
            call="keep",
            note="planted",
        )
        for name, place in (("rear-a", "rear"), ("front-a", "front")):
            add("run_diff", run=run, build=newest[name], position=place, diff_temp_c=36.0 + number)
