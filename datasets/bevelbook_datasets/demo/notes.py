"""The three note files, as ana, bo and cy kept them: how each wrote a build, a run and a later weighing."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from io import StringIO
from typing import Final, NamedTuple

from bevelbook_datasets.demo.plan import INVENTED, LABEL_CST, PLANNED_BUILDS, WRITTEN_LATE, PlannedBuild
from bevelbook_datasets.demo.timeline import RunRow, day_reached, run_rows
from bevelbook_datasets.demo.world import closed_reading_g, filled_readings_g, lost_g, masses, reading_g

FILES: Final = {"season_1": "notes_season_1.csv", "season_2": "notes_season_2.csv", "cy": "notes_cy.csv"}
CANONICAL: Final = (
    *("date", "builder", "diff", "dry_mass_g", "oil_mass_g", "total_mass_g", "viscosity_cst", "fluid", "venue"),
    *("position", "grip", "track_temp_c", "air_temp_c", "diff_temp_c", "runs", "call", "result_note"),
)
BO_HEADING: Final = (
    *("date", "builder", "unit", "dry (g)", "oil (g)", "total (g)", "viscosity", "fluid", "venue"),
    *("position", "grip", "track temp [°C]", "air temp [°C]", "diff temp [°C]", "runs", "call", "result note"),
)
CY_HEADING: Final = (
    *("Tag", "Wer", "Diff", "leer (g)", "Öl", "zusammen (g)", "cSt", "Sorte", "Strecke"),
    *("Platz", "Halt", "Bahn °F", "Luft °F", "Kegel °F", "Läufe", "Urteil", "Wie es war"),
)
LIFTED: Final = {"rear-b/1": 2, "rear-a/6": 5}
"""Builds whose lid was lifted once after this many runs, and the open half weighed again."""


class Note(NamedTuple):
    """One note row in canonical terms; an empty text says nothing."""

    date: str
    builder: str
    diff: str
    dry_mass_g: str = ""
    oil_mass_g: str = ""
    total_mass_g: str = ""
    viscosity_cst: str = ""
    fluid: str = ""
    venue: str = ""
    position: str = ""
    grip: str = ""
    track_temp_c: str = ""
    air_temp_c: str = ""
    diff_temp_c: str = ""
    runs: str = ""
    call: str = ""
    result_note: str = ""


def notes_of(sheet: str) -> list[Note]:
    """The rows of one file by day: builds, then runs, then weighings, then runs written down late."""
    dated: list[tuple[str, int, int, Note]] = []
    rows = [row for row in run_rows() if row.sheet == sheet]
    met: set[str] = set()
    for place, row in enumerate(rows):
        note = _run_note(row)
        if row.build.joined and row.build.label not in met:
            note = _with_build(note, row.build)
        met.add(row.build.label)
        late = WRITTEN_LATE.get((row.day, row.driver, row.order))
        if late:
            note = note._replace(result_note=f"{note.result_note}; written down late")
        dated.append((late or row.day, 3 if late else 1, place, note))
    for place, build in enumerate(one for one in PLANNED_BUILDS if one.kept == sheet):
        if not build.joined:
            dated.append((build.day, 0, place, _with_build(Note(build.day, build.builder, build.diff), build)))
        if build.masses == "oil":
            for runs in build.weighed:
                total = f"{closed_reading_g(build, runs):.2f}"
                day = day_reached(build, runs)
                dated.append((day, 2, place, Note(day, build.builder, build.diff, total_mass_g=total)))
        if build.label in LIFTED:
            dated.append((*_lifted(build, place),))
    return [note for _, _, _, note in sorted(dated)]


def _lifted(build: PlannedBuild, place: int) -> tuple[str, int, int, Note]:
    runs = LIFTED[build.label]
    true = masses(build)
    total = reading_g(true.dry_g + true.poured_g - lost_g(build, runs), build.scale, "lifted", build.label)
    day = day_reached(build, runs)
    return day, 2, place, Note(day, build.builder, build.diff, total_mass_g=f"{total:.2f}")


def _with_build(note: Note, build: PlannedBuild) -> Note:
    read = filled_readings_g(build)
    cst = "" if build.oil == "60 wt" else "7000" if build.oil == "7k" else f"{LABEL_CST[build.oil]:.0f}"
    note = note._replace(viscosity_cst=cst, fluid=build.oil)
    if build.masses == "none":
        return note
    note = note._replace(oil_mass_g=f"{read.oil_g:.2f}")
    if build.masses == "oil" or read.dry_g is None:
        return note
    return note._replace(dry_mass_g=f"{read.dry_g:.2f}", total_mass_g=f"{read.filled_g:.2f}")


def _run_note(row: RunRow) -> Note:
    front = row.position == "front"
    return Note(
        date=row.day,
        builder=row.driver,
        diff=row.build.diff,
        venue=row.venue,
        position=row.position,
        grip=row.here.grip,
        track_temp_c=f"{row.here.track_c:.0f}",
        air_temp_c=f"{row.here.air_c:.0f}",
        diff_temp_c=f"{row.diff_temp_c:.0f}" if row.measured and not front else "",
        runs=str(row.runs),
        call="" if front and row.build.diff.startswith("front") else row.call,
        result_note="" if front and row.build.diff.startswith("front") else row.note,
    )


def _season_1() -> str:
    return _table(",", [[INVENTED], CANONICAL, *notes_of("season_1")])


def _season_2() -> str:
    comma = ("dry_mass_g", "oil_mass_g", "total_mass_g")
    rows = [
        note._replace(date=_dotted(note.date), **{name: getattr(note, name).replace(".", ",") for name in comma})
        for note in notes_of("season_2")
    ]
    return _table(";", [[INVENTED], BO_HEADING, *rows])


_CY_WORDS: Final = {
    "grip": {"low": "rutschig", "medium": "mittel", "high": "griffig"},
    "call": {"keep": "so lassen", "change": "ändern", "undecided": "weiß nicht"},
    "position": {"front": "vorn", "rear": "hinten"},
}
_CY_NOTES: Final = {
    "rear steps out on power": "Heck kommt beim Beschleunigen",
    "loose off the corner": "lose aus der Kurve",
    "wanders on the straight": "läuft nicht geradeaus",
    "no drive out of the hairpin": "kein Vortrieb aus der Spitzkehre",
    "easy to drive": "leicht zu fahren",
    "planted": "liegt satt",
    "would take it again": "nehme ich wieder",
    "good": "gut",
    "quiet over the joints": "ruhig über die Fugen",
    "pushes in the middle": "schiebt in der Mitte",
    "stiff, hops over the joints": "steif, hüpft über die Fugen",
    "does not turn": "lenkt nicht ein",
    "inside wheel scrubs": "inneres Rad radiert",
}
_CY_SPOILT: Final[tuple[tuple[str, str, dict[str, str]], ...]] = (
    ("2025-04-06", "rear-c", {"runs": "1", "grip": "klebrig", "result_note": "letzter Lauf"}),
    ("2025-05-04", "rear-d", {"oil_mass_g": "ca. 0.1 g", "result_note": "nachgefüllt?"}),
    ("2025-05-04", "", {"runs": "1", "grip": "mittel", "result_note": "welches war das?"}),
    ("2025-05-25", "rear-c", {"runs": "1", "track_temp_c": "820 °F", "grip": "rutschig"}),
    ("2025-06-31", "rear-c", {"runs": "2", "grip": "mittel", "result_note": "Abend in der Halle"}),
    ("2025-07-20", "rear-d", {"dry_mass_g": "12.40", "total_mass_g": "12.04", "result_note": "Zahlendreher"}),
    ("2025-08-31", "rear-c", {"viscosity_cst": "60 wt", "runs": "1", "grip": "mittel"}),
    ("2025-10-12", "rear-c", {"runs": "3-4", "grip": "griffig", "result_note": "nicht mitgezählt"}),
)
"""Rows that the importer has to reject, each for a different reason."""


def _cy() -> str:
    rows = [(note.date, list(_cy_row(note))) for note in notes_of("cy")]
    for day, diff, cells in _CY_SPOILT:
        note = Note(day, "cy", diff)._replace(**cells)
        place = max((index for index, (date, _) in enumerate(rows) if date <= day), default=0)
        rows.insert(place + 1, (day, [_dotted(day, "."), *note[1:]]))
    half = next(index for index, (date, _) in enumerate(rows) if date >= "2025-07")
    table = [[INVENTED], ["Heft von cy, blaues Auto"], [], CY_HEADING]
    table += [cells for _, cells in rows[:half]]
    table += [[""] * len(CY_HEADING), CY_HEADING]
    table += [cells for _, cells in rows[half:]]
    return _table(",", table)


def _cy_row(note: Note) -> Sequence[str]:
    mapped = {name: _CY_WORDS[name].get(getattr(note, name), "") for name in _CY_WORDS}
    cst = note.viscosity_cst
    return note._replace(
        date=_dotted(note.date, "."),
        oil_mass_g=f"{note.oil_mass_g} g" if note.oil_mass_g else "",
        viscosity_cst=f"{int(cst) // 1000}k" if cst else "",
        track_temp_c=_fahrenheit(note.track_temp_c, ""),
        air_temp_c=_fahrenheit(note.air_temp_c, ""),
        diff_temp_c=_fahrenheit(note.diff_temp_c, " °F"),
        result_note=_CY_NOTES.get(note.result_note, note.result_note),
        **mapped,
    )


def _fahrenheit(celsius: str, unit: str) -> str:
    return f"{float(celsius) * 1.8 + 32:.0f}{unit}" if celsius else ""


def _dotted(day: str, pad: str = "0") -> str:
    year, month, date = day.split("-")
    return f"{date}.{month}.{year}" if pad == "0" else f"{int(date)}.{int(month)}.{year}"


def _table(delimiter: str, rows: Sequence[Sequence[str]]) -> str:
    text = StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return text.getvalue()


TEXTS: Final[dict[str, Callable[[], str]]] = {
    FILES["season_1"]: _season_1,
    FILES["season_2"]: _season_2,
    FILES["cy"]: _cy,
}
