"""A team's sheet at the first try: plain headings, cells that decide between meanings, proposals. All data are
constructed."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from conftest import empty_database

from bevelbook.notes.headings import matched
from bevelbook.notes.importing import import_notes
from bevelbook.notes.near_headings import near_fields
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.source import profile_of
from bevelbook.store.opening import open_for_writing


def brought(path: Path, text: str, **said: object) -> Report:
    """The report of a sheet given as its text, with its rows."""
    connection = open_for_writing(empty_database(path / "team.db"))
    try:
        settings = Settings(**said)  # type: ignore[arg-type]
        return import_notes(
            io.BytesIO(text.encode()), "sheet.csv", connection, path / "team.db", settings, want_rows=True
        )
    finally:
        connection.close()


USUAL = {
    "date": "Day, When, Built, Race day, Timestamp, Date:",
    "builder": "Who, Name, By, Built by, Mechanic",
    "diff": "Unit, Diff no, Diff #, Diff number, Number, No",
    "dry_mass_g": "Dry, Dry weight, Empty, Weight empty, Dry mass / g, Without oil, DRY WT.",
    "oil_mass_g": "Oil in, Oil mass in mg, Oil weight (g), Oil put in, Oil added*",
    "total_mass_g": "Filled, With oil, w/ oil, Full, Total weight, Weight filled",
    "viscosity_cst": "Visc, cSt, Oil viscosity, Oil (cSt)",
    "fluid": "Oil name, Oil type, Diff oil",
    "venue": "Circuit, Where, Hall, Location, Track name",
    "grip": "Traction",
    "track_temp_c": "Track temp, Track temperature (°C), Surface temp, track [°F]",
    "air_temp_c": "Air, Ambient, Air temperature, Ambient temp.",
    "diff_temp_c": "Diff temp, Case temp",
    "runs": "Packs, Heats, Batteries",
    "result_note": "Notes, Note, Comment, Comments, Remarks, Feel",
}
CELLS = {
    "date": ("2026-03-01", "2026-03-01"),
    "builder": ("ana", "ana"),
    "diff": ("K-01", "K-01"),
    "dry_mass_g": ("12.41", 12.41),
    "oil_mass_g": ("1.86", 1.86),
    "total_mass_g": ("14.27", 14.27),
    "viscosity_cst": ("7000", 7000.0),
    "fluid": ("house 7k", "house 7k"),
    "venue": ("Mill Hall", "Mill Hall"),
    "grip": ("med", "medium"),
    "track_temp_c": ("59", 59.0),
    "air_temp_c": ("22", 22.0),
    "diff_temp_c": ("41.5", 41.5),
    "runs": ("3", 3.0),
    "result_note": ("a bit lazy", "a bit lazy"),
}


@pytest.mark.parametrize(("name", "heading"), [(name, one) for name, all_ in USUAL.items() for one in all_.split(", ")])
def test_a_usual_heading_comes_in_at_its_field(tmp_path: Path, name: str, heading: str) -> None:
    cell, value = CELLS[name]
    if "mg" in heading:
        cell = "1860"
    if "°F" in heading:
        value = 15.0
    heads = [heading, *(one for one in ("date", "diff") if one != name)]
    cells = [cell, *(CELLS[one][0] for one in ("date", "diff") if one != name)]
    report = brought(tmp_path, ",".join(heads) + "\n" + ",".join(cells) + "\n")
    assert report.rows is not None
    assert [row["values"][name] for row in report.rows] == [value]
    assert not report.not_understood


BY_CELLS = [
    ("Track", ["Mill Hall", "North Field"], "venue"),
    ("Track", ["31.5", "28 °C", "~30"], None),
    ("Track", ["31.5", "28 °C"], "track_temp_c"),
    ("Track", ["Track 2", "Track 3"], "venue"),
    ("Oil", ["7k", "10k", "30wt"], "fluid"),
    ("Oil", ["house 7k", "house 10k"], "fluid"),
    ("Oil", ["7000", "10000"], "fluid"),
    ("Oil", ["7000 cSt", "10000 cSt"], "viscosity_cst"),
    ("Oil", ["1.86", "1.9", "2"], "oil_mass_g"),
    ("Oil", ["1.86 g", "2 g"], "oil_mass_g"),
    ("Oil", ["5", "7", "10"], None),
    ("Oil", ["7.000", "10.000"], None),
    ("Oil wt", ["30", "40"], "fluid"),
    ("Oil wt", ["1.86", "1.90"], "oil_mass_g"),
    ("Fill", ["1.86", "1.90"], "oil_mass_g"),
    ("Fill", ["14.26", "14.30"], "total_mass_g"),
    ("Weight", ["1.86", "1.9"], "oil_mass_g"),
    ("Weight", ["12.41", "12.5"], None),
    ("Place", ["rear", "front"], "position"),
    ("Place", ["Mill Hall", "North Field"], "venue"),
    ("Temp", ["22", "31"], None),
]


@pytest.mark.parametrize(("heading", "cells", "name"), BY_CELLS)
def test_the_cells_decide_between_meanings_or_it_is_asked(
    tmp_path: Path, heading: str, cells: list[str], name: str | None
) -> None:
    lines = [f"2026-03-0{day},K-01,12.41,{cell}" for day, cell in enumerate(cells, 1)]
    head = "date,diff,dry_mass_g," if heading != "Weight" else "date,diff,runs,"
    report = brought(tmp_path, "\n".join([head + heading, *lines]))
    said = [one for one in report.warnings if one.startswith("meaning_by_cells")]
    if name is None:
        assert (said, report.columns.get(heading)) == ([], None)
        (question,) = report.questions
        assert (question.about, question.samples) == (heading, tuple(cells[:3]))
        assert {answer.value for answer in question.answers} > {"ignore"}
    else:
        assert (said, report.columns[heading]) == ([f"meaning_by_cells:{heading}={name}"], name)


def test_a_label_that_has_a_column_of_its_own_leaves_the_viscosity_to_the_other(tmp_path: Path) -> None:
    report = brought(tmp_path, "date,diff,Oil,fluid\n2026-03-01,K-01,7k,house 7k\n2026-03-02,K-01,10k,house 10k\n")
    assert (report.columns["Oil"], report.rows and report.rows[0]["values"]["viscosity_cst"]) == ("viscosity_cst", 7000)


def test_a_weight_beside_a_dry_mass_is_the_total(tmp_path: Path) -> None:
    report = brought(tmp_path, "date,diff,dry,weight\n2026-03-01,K-01,12.41,14.27\n")
    assert report.columns["weight"] == "total_mass_g"


def test_what_is_left_over_among_temperatures_is_proposed_and_not_taken(tmp_path: Path) -> None:
    text = "date,diff,air,track temp,temp\n2026-03-01,K-01,20,25,38\n"
    report = brought(tmp_path, text)
    assert report.not_understood == ("temp",)
    report = brought(tmp_path, text, accept_map=True)
    assert (report.columns["temp"], "map_accepted:temp=diff_temp_c" in report.warnings) == ("diff_temp_c", True)


def test_words_below_a_mass_and_row_numbers_below_no_are_not_taken_for_them(tmp_path: Path) -> None:
    report = brought(
        tmp_path, "date,diff,no,full,oil in\n" + "".join(f"2026-03-0{n},K-01,{n},yes,1.8{n}\n" for n in (1, 2, 3))
    )
    assert (report.accepted, report.rejected, report.not_understood) == (3, 0, ("no", "full"))


def test_a_word_of_the_trade_gives_way_to_the_name_of_the_field_and_the_first_note_is_the_note(tmp_path: Path) -> None:
    report = brought(
        tmp_path, "date,when,diff,oil_mass_g,oil weight (g),notes,feel\n2026-03-01,2026-03-02,K-01,1.86,1.9,ok,soft\n"
    )
    assert report.columns == {"date": "date", "diff": "diff", "oil_mass_g": "oil_mass_g", "notes": "result_note"}
    assert report.not_understood == ("when", "oil weight (g)", "feel")


def test_two_words_for_one_mass_are_refused_with_both_names_and_the_way_out(tmp_path: Path) -> None:
    text = "date,diff,dry weight,empty\n2026-03-01,K-01,12.41,12.5\n"
    report = brought(tmp_path, text)
    assert (report.outcome, report.file_reason) == ("rejected", "duplicate_header")
    assert 'found "dry weight, empty"' in str(report.message)
    assert "--map empty=ignore" in str(report.message)
    assert [one.value for one in report.questions[0].answers] == ["empty=ignore", "dry weight=ignore"]
    assert brought(tmp_path, text, columns={"empty": "ignore"}).accepted == 1


@pytest.mark.parametrize(
    ("heading", "names"),
    [
        ("Dry wieght", ("dry_mass_g",)),
        ("Oil weigth", ("oil_mass_g", "fluid")),
        ("Comnents", ("result_note",)),
        ("Notes (driver)", ("result_note",)),
        ("Weight of the diff, dry", ("dry_mass_g",)),
        ("Humour", ()),
        ("Weather", ()),
        ("x" * 5000, ()),
        ("", ()),
    ],
)
def test_a_heading_near_to_a_known_one(heading: str, names: tuple[str, ...]) -> None:
    assert near_fields(heading).names == names


NEAR = (
    "Name,Diff no,Dry wieght,Oil weigth [mg],Comnents,Dat\nana,K-01,12.41,1860,ok,2026-03-01\n"
    "bo,K-02,12.52,1900,lazy,2026-03-08\n"
)


def test_near_headings_are_proposed_and_taken_only_on_request(tmp_path: Path) -> None:
    report = brought(tmp_path, NEAR)
    assert report.file_reason == "missing_required"
    assert "--map Comnents=result_note --map Dat=date (--accept-map takes all)." in str(report.message)
    report = brought(tmp_path, NEAR, accept_map=True)
    assert report.rows is not None
    first = report.rows[0]["values"]
    assert (first["date"], first["builder"], first["diff"]) == ("2026-03-01", "ana", "K-01")
    assert (first["dry_mass_g"], first["oil_mass_g"], first["result_note"]) == (12.41, 1.86, "ok")
    assert [one for one in report.warnings if one.startswith("map_accepted")] == [
        "map_accepted:Dry wieght=dry_mass_g",
        "map_accepted:Oil weigth [mg]=oil_mass_g",
        "map_accepted:Comnents=result_note",
        "map_accepted:Dat=date",
    ]


def test_what_was_accepted_is_kept_with_the_file(tmp_path: Path) -> None:
    from asked import asked

    brought(tmp_path, NEAR, accept_map=True)
    ((options,),) = asked(tmp_path / "team.db", "SELECT options FROM note_files")
    assert '"dat": "date"' in options
    assert "accept_map" not in options


def test_a_missing_diff_is_never_proposed_from_a_stranger(tmp_path: Path) -> None:
    report = brought(tmp_path, "Date,Name,Humour,dry\n2026-03-01,ana,fine,12.41\n")
    assert "Proposed" not in str(report.message)
    assert "--map HEADING=diff" in str(report.message)
    report = brought(tmp_path, "Date,Name,Diffy,Humour,dry\n2026-03-01,ana,K-01,fine,12.41\n")
    assert "Proposed: --map Diffy=diff" in str(report.message)


@pytest.mark.parametrize(
    ("text", "is_refused"),
    [
        ("date,diff,Juice,runs\n2026-03-01,K-01,7k,3\n", True),
        ("date,diff,Strange\n2026-03-01,K-01,13.25\n2026-03-02,K-01,13.3\n", True),
        ("date,diff,oil,runs\n2026-03-01,K-01,7,3\n", True),
        ("date,diff,Juice,oil_mass_g\n2026-03-01,K-01,7k,1.86\n", False),
        ("date,diff,Weather,runs\n2026-03-01,K-01,sunny,3\n", False),
        ("date,diff,Humidity,runs\n2026-03-01,K-01,45,3\n", False),
        ("date,diff,Juice,runs\n2026-03-01,K-01,,3\n", False),
    ],
)
def test_a_sheet_whose_only_oil_was_not_understood_is_not_taken(tmp_path: Path, text: str, is_refused: bool) -> None:
    report = brought(tmp_path, text)
    assert (report.file_reason == "columns_unknown") is is_refused
    if is_refused:
        assert all(one.is_needed for one in report.questions)
        heading = text.split(",")[2].splitlines()[0]
        assert brought(tmp_path, text, columns={heading.lower(): "ignore"}).rejected == 0


def test_the_headline_says_what_did_not_come_in(tmp_path: Path) -> None:
    text = "date,diff,oil_mass_g,Weather,Mood\n2026-03-01,K-01,1.86,sunny,calm\n"
    lines = list(brought(tmp_path, text).lines())
    assert lines[0] == (
        'sheet.csv: 1 row taken without the columns "Weather", "Mood", not understood; 0 rejected, 0 skipped.'
    )
    asked = lines.index('  What is in the column "Weather"? (sunny)')
    assert lines[asked + 1].startswith("    --map Weather=")
    said = brought(tmp_path, text, columns={"weather": "ignore", "mood": "ignore"})
    assert next(said.lines()) == "sheet.csv: 1 row accepted, 0 rejected, 0 skipped."
    assert said.warnings == ["fill_unknown:line 2"] or said.warnings == []


def test_the_headline_names_eight_columns_and_counts_the_others(tmp_path: Path) -> None:
    others = [f"mood {number}" for number in range(11)]
    text = ",".join(["date", "diff", "oil_mass_g", *others]) + "\n2026-03-01,K-01,1.86" + ",calm" * 11 + "\n"
    assert '"mood 7" and 3 more, not understood' in next(brought(tmp_path, text).lines())


def test_a_profile_has_proposals_as_comments_and_ignores_no_column_with_cells(tmp_path: Path) -> None:
    (tmp_path / "near.csv").write_text(
        NEAR.replace("Name,", "Name,Humour,").replace("ana,", "ana,fine,").replace("bo,", "bo,calm,"), encoding="utf-8"
    )
    with (tmp_path / "near.csv").open("rb") as file:
        text = profile_of(file, "near.csv", Settings())
    assert '  # "Dat": "date"  # 2026-03-01, 2026-03-08\n' in text
    assert '  # "Humour": ""  # fine, calm\n' in text
    assert ': "ignore"' not in text


def test_a_heading_in_a_profile_may_mean_a_word_of_the_trade() -> None:
    column = matched("Öl", 0, {"öl": "oil"})
    assert (column.field, column.meanings) == (None, ("oil_mass_g", "viscosity_cst", "fluid"))


FAR = "club log 2026\n\nKisa nro,Tyhja paino,Oljya,Pvm\nK-01,12.41,1.86,2026-03-01\nK-02,12.52,1.90,2026-03-08\n"


def test_where_no_heading_is_known_the_line_that_looks_like_one_is_shown(tmp_path: Path) -> None:
    """Only its cells say which column is the day; which one is the diff has to be said."""
    report = brought(tmp_path, FAR)
    assert (report.file_reason, str(report.message).split(":")[0]) == ("no_heading", "line 3")
    assert "Proposed: --map Pvm=date (--accept-map takes it)." in str(report.message)
    assert [(one.words, one.answers[0].value) for one in report.questions] == [
        ("Which column is the date?", "Pvm=date"),
        ("Which column is the diff?", "Kisa nro=diff"),
    ]
    report = brought(tmp_path, FAR, accept_map=True)
    assert (report.file_reason, [one.words for one in report.questions]) == (
        "no_heading",
        ["Which column is the diff?"],
    )
    columns = {"pvm": "date", "kisa nro": "diff", "tyhja paino": "dry_mass_g", "oljya": "oil_mass_g"}
    assert brought(tmp_path, FAR, columns=columns).accepted == 2


def test_headings_that_are_all_misspelt_are_taken_on_request(tmp_path: Path) -> None:
    text = "notes of the club;;;\nDat;Difff no;Dry wieght;Oil weigth\n2026-03-01;K-01;12,41;1,86\n"
    report = brought(tmp_path, text)
    assert report.file_reason == "no_heading"
    assert '--map Dat=date --map "Difff no=diff" --map "Dry wieght=dry_mass_g"' in str(report.message)
    report = brought(tmp_path, text, accept_map=True)
    assert report.rows is not None
    values = report.rows[-1]["values"]
    assert (values["date"], values["diff"], values["oil_mass_g"]) == ("2026-03-01", "K-01", 1.86)


def test_a_profile_is_written_without_the_line_of_the_headings(tmp_path: Path) -> None:
    (tmp_path / "far.csv").write_text(FAR, encoding="utf-8")
    with (tmp_path / "far.csv").open("rb") as file:
        text = profile_of(file, "far.csv", Settings())
    assert '  # "Pvm": "date"  # 2026-03-01, 2026-03-08\n' in text
    assert '  # "Kisa nro": ""  # K-01, K-02\n' in text


@pytest.mark.parametrize("text", ["just a letter to a friend\n", "a,b\nc,d\n", "1,2\n3,4\n", "x\n"])
def test_what_is_no_table_has_no_line_that_looks_like_a_heading(tmp_path: Path, text: str) -> None:
    report = brought(tmp_path, text)
    assert (report.file_reason, report.questions) == ("no_heading", [])


@pytest.mark.parametrize(
    ("heading", "cells", "never"),
    [
        ("Rear temp C", ("44", "40"), "air_temp_c"),
        ("Motor temp C", ("31", "28"), "air_temp_c"),
        ("Front oil", ("10k", "7k"), "fluid"),
        ("Oil, case side", ("10k", "7k"), "fluid"),
        ("Tyre number", ("T-4", "T-5"), "diff"),
    ],
)
def test_a_heading_with_a_place_or_another_part_in_it_is_not_proposed_for_the_diff_of_the_row(
    tmp_path: Path, heading: str, cells: tuple[str, str], never: str
) -> None:
    text = f'date,diff,track temp,diff temp,oil mass,"{heading}"\n' + "".join(
        f"2026-03-0{day},K-01,31,45,1.86,{cell}\n" for day, cell in enumerate(cells, 1)
    )
    report = brought(tmp_path, text, accept_map=True)
    assert report.not_understood == (heading,)
    assert never not in [answer.value for one in report.questions for answer in one.answers]


PLACED = (
    "Date,Rear diff,Front oil,Rear oil,Weight before,Weight after\n2026-03-01,q1,10k,7k,12.41,14.27\n"
    "2026-03-08,q1,10k,7k,12.40,14.25\n"
)


def test_a_place_in_a_heading_agrees_with_that_of_the_diff(tmp_path: Path) -> None:
    report = brought(tmp_path, PLACED, accept_map=True)
    assert report.columns["Rear oil"] == "fluid"
    assert (report.columns["Weight before"], report.columns["Weight after"]) == ("dry_mass_g", "total_mass_g")
    assert report.not_understood == ("Front oil",)


def test_of_two_diffs_at_different_places_none_is_proposed(tmp_path: Path) -> None:
    report = brought(tmp_path, "Date,Front diff,Rear diff,dry\n2026-03-01,q1,q2,12.4\n", accept_map=True)
    assert (report.file_reason, "Proposed" in str(report.message)) == ("missing_required", False)


def test_masses_before_and_after_are_no_pair_where_the_second_is_lighter(tmp_path: Path) -> None:
    report = brought(tmp_path, "date,diff,oil mass,before,after\n2026-03-01,q1,1.86,22.35,22.31\n", accept_map=True)
    assert report.not_understood == ("before", "after")


def test_one_of_two_masses_is_not_taken_alone(tmp_path: Path) -> None:
    text = "date,diff,Dry wieght,full\n2026-03-01,q1,12.41,14.27\n"
    report = brought(tmp_path, text)
    assert (report.file_reason, [one.about for one in report.questions]) == ("columns_unknown", ["Dry wieght"])
    assert "only one of dry and total mass was understood" in str(report.message)
    assert brought(tmp_path, text, accept_map=True).accepted == 1


@pytest.mark.parametrize(
    ("heading", "cell", "answers"),
    [
        ("Laptime best", "14.2", ["best_lap_s"]),
        ("Shims", "0.2", []),
        ("Mood", "calm", ["result_note"]),
        ("Temp", "31", ["track_temp_c", "air_temp_c", "diff_temp_c"]),
    ],
)
def test_only_what_is_likely_is_offered(tmp_path: Path, heading: str, cell: str, answers: list[str]) -> None:
    report = brought(tmp_path, f"date,diff,dry,filled,{heading}\n2026-03-01,q1,12.41,14.27,{cell}\n")
    assert [[one.value for one in question.answers] for question in report.questions] == [[*answers, "ignore"]]


def test_the_headline_counts_all_columns_that_were_not_understood(tmp_path: Path) -> None:
    more = 960
    heading = ",".join(["date", "diff", "dry mass", *(f"col {at}" for at in range(more)), "empty"])
    cells = ",".join(["2026-04-03", "K-01", "12.5", *(["x"] * more), ""])
    report = brought(tmp_path, f"{heading}\n{cells}\n")
    assert f"and {more - 8} more, not understood" in next(report.lines())
    assert report.as_dict()["not_understood_count"] == more
