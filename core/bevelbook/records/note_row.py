"""A flat note row, column by column: how a cell is read, which record fields it fills, and what it makes.

It has no table of its own. The headings of an import, where its rows go, and the view of imported notes follow from it.
A new column is declared last: see ``notes.note_columns.LATER``. ``headings`` are the words of the trade that people
write above such a column; where a word is in those of several columns, the cells below it decide
(``notes.meanings``).
"""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import filling, record
from bevelbook.records.building import Build, Weighing
from bevelbook.records.events import Event
from bevelbook.records.parts import Bottle, Diff, Fluid
from bevelbook.records.people import Car, Person, Scale, Venue
from bevelbook.records.track import Run, RunDiff

_WEIGHT: Final = "weight, mass, wt"
"""Headings that do not say what was on the scale."""
_OIL_WEIGHT: Final = "oil weight, oil wt"
"""Grams of oil, or the weight number of its label."""
_TEMPERATURE: Final = "temp, temperature"
"""Headings that do not say what was measured."""


def _temperature_at(*places: str) -> tuple[str, ...]:
    """What people write above the temperatures of the diff at a place of the car, by the words for that place."""
    return tuple(
        heading
        for place in places
        for temp in ("temp", "temperature")
        for heading in (
            f"{place} diff {temp}",
            f"diff {temp} {place}",
            f"{temp} {place} diff",
            f"{place} {temp} diff",
            f"{temp} diff {place}",
            f"diff {place} {temp}",
        )
    )


def _words(*lists: str) -> tuple[str, ...]:
    return tuple(word for text in lists for word in text.split(", "))


@record
class NoteRow:
    date: str = filling(
        (Build, "built_on"),
        (Weighing, "weighed_on"),
        (Run, "run_on"),
        about="Day",
        required=True,
        headings=_words("day, when, built, built on, build date, run date, race day, time stamp, timestamp"),
    )
    builder: str | None = filling(
        (Build, "builder"),
        (Weighing, "person"),
        (Run, "noted_by"),
        named=(Person, "name"),
        about="Who built it or wrote it down",
        headings=_words("who, name, by, built by, filled by, noted by, written by, mechanic, initials"),
    )
    diff: str = filling(
        (Build, "diff"),
        named=(Diff, "label"),
        required=True,
        of_build=True,
        headings=_words(
            "unit, unit no, unit number, diff no, diff nr, diff number, diff #, diff id, diff name, diff label",
            "differential, case no, no, number, #",
        ),
    )
    dry_mass_g: float | None = filling(
        (Build, "dry_mass_g"),
        makes=Build,
        headings=_words(
            "dry, dry mass, dry weight, dry wt, mass dry, weight dry, before oil, no oil, without oil, w/o oil",
            "empty, empty mass, empty weight, empty wt, mass empty, weight empty",
            _WEIGHT,
        ),
    )
    oil_mass_g: float | None = filling(
        (Build, "oil_mass_g"),
        makes=Build,
        headings=_words(
            "oil mass, mass of oil, weight of oil, mass oil, oil in, oil put in, oil added, oil amount, amount of oil",
            "grams of oil, oil grams, oil qty, oil quantity, quantity of oil, oil, fill",
            _OIL_WEIGHT,
            _WEIGHT,
        ),
    )
    total_mass_g: float | None = filling(
        (Weighing, "mass_g"),
        (Build, "filled_mass_g"),
        read_as=(Build, "filled_mass_g"),
        makes=Weighing,
        about="Mass after oil, or weighed later",
        headings=_words(
            "total, total mass, total weight, total wt, mass total, with oil, w/ oil, w/oil, after oil, mass with oil",
            "weight with oil, filled, filled mass, filled weight, mass filled, weight filled, full, full mass",
            "full weight, mass full, weight full, filled wt, full wt, wet mass, wet weight, wet wt, fill",
            _WEIGHT,
        ),
    )
    viscosity_cst: float | None = filling(
        (Build, "viscosity_cst"),
        of_build=True,
        headings=_words("viscosity, visc, cst, oil viscosity, oil visc, oil cst, viscosity of oil, oil"),
    )
    fluid: str | None = filling(
        (Build, "fluid"),
        named=(Fluid, "label"),
        of_build=True,
        about="Oil as on the bottle",
        headings=_words("oil, oil name, oil label, oil type, oil used, diff oil, silicone oil", _OIL_WEIGHT),
    )
    venue: str | None = filling(
        (Run, "venue"),
        (Weighing, "venue"),
        named=(Venue, "name"),
        about="Where",
        once=True,
        headings=_words("track, circuit, where, hall, location, place, track name, race track, venue name"),
    )
    position: str | None = filling((RunDiff, "position"), headings=_words("pos, axle, place, front/rear, f/r"))
    grip: str | None = filling((Run, "grip"), makes=Run, headings=_words("grip level, traction"))
    track_temp_c: float | None = filling(
        (Run, "track_temp_c"),
        makes=Run,
        headings=_words(
            "track, track temp, track temperature, temp track, surface temp, surface temperature, ground temp",
            _TEMPERATURE,
        ),
    )
    air_temp_c: float | None = filling(
        (Run, "air_temp_c"),
        makes=Run,
        headings=_words(
            "air, air temp, air temperature, temp air, ambient, ambient temp, ambient temperature, outside temp",
            _TEMPERATURE,
        ),
    )
    diff_temp_c: float | None = filling(
        (RunDiff, "diff_temp_c"),
        makes=Run,
        headings=_words("diff temp, diff temperature, case temp, housing temp", _TEMPERATURE),
    )
    runs: float | None = filling(
        (Run, "runs"),
        makes=Run,
        headings=_words("packs, heats, batteries, battery packs, number of runs, no of runs, run count"),
    )
    call: str | None = filling((Run, "call"), makes=Run, headings=_words("decision, verdict"))
    result_note: str | None = filling(
        (Run, "note"),
        (Weighing, "note"),
        (Build, "note"),
        about="How the car felt, and anything else",
        once=True,
        headings=_words(
            "notes, note, comment, comments, remark, remarks, feel, feeling, feedback, observations, impression"
        ),
    )
    after_run_s: float | None = filling((RunDiff, "after_run_s"), headings=("diff temp after", "diff after run"))
    second_diff_temp_c: float | None = filling((RunDiff, "second_diff_temp_c"), headings=("second diff temp",))
    second_after_run_s: float | None = filling(
        (RunDiff, "second_after_run_s"), headings=("second diff temp after", "second diff after run")
    )
    started_at: str | None = filling((Run, "started_at"), headings=("time", "time of day"))
    day_order: int | None = filling((Run, "day_order"), makes=Run, headings=("run no", "run number", "run of the day"))
    event: str | None = filling((Run, "event"), named=(Event, "name"), headings=("race", "meeting"))
    car: str | None = filling((Run, "car"), named=(Car, "name"))
    driver: str | None = filling((Run, "driver"), named=(Person, "name"), headings=("who drove", "driven by"))
    surface_state: str | None = filling((Run, "surface_state"), headings=("state of the surface",))
    grip_trend: str | None = filling((Run, "grip_trend"), headings=("trend of the grip",))
    laps: int | None = filling((Run, "laps"), makes=Run, headings=("laps driven", "lap count"))
    lap_times: str | None = filling((Run, "lap_times"), makes=Run, headings=_words("all laps, laps in s"))
    best_lap_s: float | None = filling(
        (Run, "best_lap_s"), makes=Run, headings=_words("best lap time, fastest lap, best, fastest")
    )
    best_five_s: float | None = filling(
        (Run, "best_five_s"), makes=Run, headings=("best 5", "best five laps", "best 5 laps")
    )
    tyres: str | None = filling((Run, "tyres"), headings=_words("tires, tyre, tire, tyre set, tires used"))
    tyre_runs: float | None = filling((Run, "tyre_runs"), headings=("tire runs", "runs on tyres", "runs on tires"))
    changed: str | None = filling((Run, "changed"), headings=("change", "changes", "what changed"))
    balance_entry: int | None = filling((Run, "balance_entry"), makes=Run, headings=("corner entry",))
    balance_middle: int | None = filling((Run, "balance_middle"), makes=Run, headings=("mid corner", "mid-corner"))
    balance_exit: int | None = filling((Run, "balance_exit"), makes=Run, headings=("corner exit",))
    forward_drive: str | None = filling((Run, "forward_drive"), makes=Run)
    side_bite: str | None = filling((Run, "side_bite"), makes=Run)
    happened: str | None = filling((Run, "happened"), headings=("what happened", "incident"))
    temp_taken: str | None = filling((RunDiff, "temp_taken"), headings=("diff temp taken", "when taken"))
    build_kind: str | None = filling((Build, "kind"), makes=Build, headings=("kind of build", "what was done"))
    washed: str | None = filling((Build, "washed"), headings=("washed out",))
    bottle: str | None = filling((Build, "bottle"), named=(Bottle, "lot"), headings=("lot", "bottle lot"))
    target_oil_mass_g: float | None = filling(
        (Build, "target_oil_mass_g"),
        headings=_words("target oil, target oil mass, oil target, planned oil, oil planned, oil wanted"),
    )
    closed_mass_g: float | None = filling(
        (Build, "closed_mass_g"),
        makes=Weighing,
        headings=_words("closed mass, mass closed, closed, closed weight, weight closed, lid on"),
    )
    sister_mass_g: float | None = filling(
        (Build, "sister_mass_g"),
        (Weighing, "sister_mass_g"),
        headings=("sister", "sister mass", "sister housing", "empty housing"),
    )
    mass_basis: str | None = filling(
        (Build, "mass_basis"), also=(Weighing,), headings=("basis", "what was on the scale")
    )
    scale: str | None = filling((Build, "scale"), (Weighing, "scale"), named=(Scale, "name"), headings=("scales",))
    parts_on_pan: str | None = filling(
        (Build, "parts_on_pan"), (Weighing, "parts_on_pan"), headings=("parts on scale", "parts on the scale")
    )
    squeeze_out: str | None = filling((Build, "squeeze_out"), headings=_words("squeezed out, squeeze-out"))
    degassing: str | None = filling((Build, "degassing"), headings=("degassed",))
    grease: str | None = filling((Build, "grease"))
    gasket: str | None = filling((Build, "gasket"), headings=("sealant",))
    screw_torque_nm: float | None = filling((Build, "screw_torque_nm"), headings=("screw torque", "torque"))
    hand_feel: str | None = filling((Build, "hand_feel"), headings=("feel by hand", "turns by hand"))
    against_last: str | None = filling((Build, "against_last"), headings=("against last build", "against the last"))
    runs_since_build: float | None = filling((Weighing, "runs"), headings=("runs since the build", "runs since fill"))
    wiped: str | None = filling((Weighing, "wiped"), headings=("wiped off",))
    seals: str | None = filling(
        (Build, "seals"), headings=_words("seal, rings, o rings, o-rings, orings, o ring, o-ring, seal rings")
    )
    front_diff_temp_c: float | None = filling(
        read_as=(RunDiff, "diff_temp_c"),
        also=(RunDiff,),
        about="Temperature of the diff at the front",
        makes=Run,
        headings=_temperature_at("front"),
    )
    centre_diff_temp_c: float | None = filling(
        read_as=(RunDiff, "diff_temp_c"),
        also=(RunDiff,),
        about="Temperature of the diff in the centre",
        makes=Run,
        headings=_temperature_at("centre", "center", "middle"),
    )
    rear_diff_temp_c: float | None = filling(
        read_as=(RunDiff, "diff_temp_c"),
        also=(RunDiff,),
        about="Temperature of the diff at the rear",
        makes=Run,
        headings=_temperature_at("rear", "back"),
    )
