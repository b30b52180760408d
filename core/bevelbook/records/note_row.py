"""A flat note row, column by column: how a cell is read, which record fields it fills, and what it makes.

It has no table of its own. The headings of an import, where its rows go, and the view of imported notes follow from it.
A new column is declared last: see ``notes.note_columns.LATER``.
"""

from __future__ import annotations

from bevelbook.declare.fields import filling, record
from bevelbook.records.building import Build, Weighing
from bevelbook.records.parts import Diff, Fluid
from bevelbook.records.people import Person, Venue
from bevelbook.records.track import Run, RunDiff


@record
class NoteRow:
    date: str = filling((Build, "built_on"), (Weighing, "weighed_on"), (Run, "run_on"), about="Day", required=True)
    builder: str | None = filling(
        (Build, "builder"),
        (Weighing, "person"),
        (Run, "noted_by"),
        named=(Person, "name"),
        about="Who built it or wrote it down",
    )
    diff: str = filling((Build, "diff"), named=(Diff, "label"), required=True, of_build=True, headings=("unit",))
    dry_mass_g: float | None = filling((Build, "dry_mass_g"), makes=Build, headings=("dry", "dry mass"))
    oil_mass_g: float | None = filling(
        (Build, "oil_mass_g"), makes=Build, headings=("oil mass",), headings_with_unit=("oil",)
    )
    total_mass_g: float | None = filling(
        (Weighing, "mass_g"),
        (Build, "filled_mass_g"),
        read_as=(Build, "filled_mass_g"),
        makes=Weighing,
        about="Mass after oil, or weighed later",
        headings=("total", "total mass"),
    )
    viscosity_cst: float | None = filling((Build, "viscosity_cst"), of_build=True, headings=("viscosity",))
    fluid: str | None = filling((Build, "fluid"), named=(Fluid, "label"), of_build=True, about="Oil as on the bottle")
    venue: str | None = filling((Run, "venue"), (Weighing, "venue"), named=(Venue, "name"), about="Where", once=True)
    position: str | None = filling((RunDiff, "position"))
    grip: str | None = filling((Run, "grip"), makes=Run)
    track_temp_c: float | None = filling((Run, "track_temp_c"), makes=Run, headings=("track", "track temp"))
    air_temp_c: float | None = filling((Run, "air_temp_c"), makes=Run, headings=("air", "air temp"))
    diff_temp_c: float | None = filling((RunDiff, "diff_temp_c"), makes=Run, headings=("diff temp",))
    runs: float | None = filling((Run, "runs"), makes=Run)
    call: str | None = filling((Run, "call"), makes=Run)
    result_note: str | None = filling(
        (Run, "note"), (Weighing, "note"), (Build, "note"), about="How the car felt, and anything else", once=True
    )
    after_run_s: float | None = filling((RunDiff, "after_run_s"), headings=("diff temp after", "diff after run"))
    second_diff_temp_c: float | None = filling((RunDiff, "second_diff_temp_c"), headings=("second diff temp",))
    second_after_run_s: float | None = filling(
        (RunDiff, "second_after_run_s"), headings=("second diff temp after", "second diff after run")
    )
