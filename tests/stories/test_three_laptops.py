"""A weekend of three laptops that meet on Sunday evening, by their commands. The team and its figures are invented.

Anna works at the bench, Bo at the track with a copy of her file from Friday, and Cy has last year's sheet at home.
It takes some seconds: it is fifty commands, and each opens its file again.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from shutil import copyfile

import pytest
from asked import asked
from conftest import Outcome
from photographed import picture

Run = Callable[..., Outcome]
LAST_YEAR = """date,diff,dry_mass_g,oil_mass_g,total_mass_g,fluid,runs,venue,builder
2025-09-06,rear-a,12.40,1.86,,house 5k,2,Brickfield,cy
2025-09-07,rear-a,,,,,3,Brickfield,
2025-09-07,front-1,~11,1.80,,house 7k,1,Brickfield,cy
2025-09-14,rear-a,,,14.21,,,,
"""
GROWN = f"{LAST_YEAR}2025-09-20,front-1,11.20,1.80,,house 7k,1,Brickfield,cy\n"


CLOSED = "fluid=house 5k|mass_basis=closed"


class Weekend:
    """The three laptops, each with its file, and what is typed on them."""

    def __init__(self, bevelbook: Run, folder: Path) -> None:
        self.bevelbook = bevelbook
        self.folder = folder

    def file(self, name: str) -> Path:
        return self.folder / f"{name}.db"

    def on(self, name: str, *words: object, code: int = 0) -> Outcome:
        """What somebody types on their own laptop."""
        outcome = self.bevelbook("--db", self.file(name), "--by", name, *words)
        assert outcome.code == code, f"{words}\n{outcome.out}{outcome.err}"
        return outcome

    def record(self, name: str, *texts: str, code: int = 0) -> Outcome:
        """Several records, each as its words with a bar between."""
        for text in texts:
            outcome = self.on(name, "record", *text.split("|"), code=code)
        return outcome


@pytest.fixture
def weekend(bevelbook: Run, tmp_path: Path) -> Weekend:
    """Friday to Sunday noon: what each of them wrote, before they meet."""
    team = Weekend(bevelbook, tmp_path)
    friday(team)
    at_the_bench(team)
    at_the_track(team)
    at_home(team)
    return team


def friday(team: Weekend) -> None:
    """Anna has the team's file, and Bo takes a copy of it along."""
    team.on("anna", "new")
    team.record(
        "anna",
        "person|name=anna",
        "person|name=bo",
        "scale|name=bench scale|step=0.01",
        "diff|label=rear-a|usual_position=rear|housing_material=aluminium",
        "fluid|label=house 5k|viscosity=5000",
        "venue|name=Brickfield",
        f"build|diff=rear-a|label=rear-a/11|built_on=2026-05-01|dry_mass=12.42|oil_mass=1.86|{CLOSED}",
    )
    copyfile(team.file("anna"), team.file("bo"))


def at_the_bench(team: Weekend) -> None:
    """Anna corrects a dry mass, builds the twelfth, keeps its stop mass, and brings in Cy's sheet."""
    team.record(
        "anna",
        "build|rear-a/11|dry_mass=12.46",
        f"build|diff=rear-a|built_on=2026-05-02|dry_mass=12.44|oil_mass=1.84|{CLOSED}",
    )
    team.on("anna", "calc", "fill-target", "--for", "build:rear-a/12", "--keep")
    sheet = team.folder / "last-year.csv"
    sheet.write_text(LAST_YEAR, encoding="utf-8")
    team.on("anna", "import", sheet, "--no-rejects", code=1)


def at_the_track(team: Weekend) -> None:
    """Bo corrects the same dry mass otherwise, builds a twelfth too, and writes runs of a diff that he calls rear A."""
    team.record(
        "bo",
        "build|rear-a/11|dry_mass=12.43",
        f"build|diff=rear-a|built_on=2026-05-02|dry_mass=12.41|oil_mass=1.88|{CLOSED}",
        "diff|label=rear A|mark=red dot",
        "build|diff=rear A|built_on=2026-05-02|dry_mass=12.41|oil_mass=1.88",
        "run|run_on=2026-05-03|rear=rear A|venue=Brickfield|runs=2|grip=high",
        "run|run_on=2026-05-03|rear=rear A|venue=Brickfield|runs=5|grip=low",
    )
    team.on("bo", "take-back")
    groove = team.folder / "groove.jpg"
    groove.write_bytes(picture())
    team.on("bo", "record", "photo", "--file", groove, "build=rear-a/11", "piece=outdrive", "taken_on=2026-05-03")


def at_home(team: Weekend) -> None:
    """Cy has a file of his own with last year's sheet, the same that Anna has, and then the sheet as it has grown."""
    team.on("cy", "new")
    sheet = team.folder / "last-year.csv"
    team.on("cy", "import", sheet, "--no-rejects", code=1)
    sheet.write_text(GROWN, encoding="utf-8")
    team.on("cy", "import", sheet, "--no-rejects", code=1)


def exported(team: Weekend, name: str) -> dict[str, str]:
    """Every file of an export of all that somebody has, by its hash."""
    folder = team.folder / f"season-{name}"
    team.on(name, "export", folder)
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): sha256(path.read_bytes()).hexdigest() for path in files}


def test_sunday_evening(weekend: Weekend) -> None:
    """They meet in different orders, by file, export and zip; a clash is settled once, and all have the same."""
    team = weekend
    # Anna takes in Bo's file: she looks first, then does it.
    before = team.file("anna").read_bytes()
    would = team.on("anna", "merge", team.file("bo"), "--dry-run", code=1)
    assert "1 clash: dry mass of build rear-a/11" in would.out
    assert team.file("anna").read_bytes() == before
    came = team.on("anna", "merge", team.file("bo"), code=1)
    assert "bo: " in came.out
    assert "1 clash: dry mass of build rear-a/11" in came.out
    # Two builds are called rear-a/12 now, and a command that names one asks which.
    twelfth = "SELECT label FROM builds WHERE label LIKE 'rear-a/12%' ORDER BY label"
    assert asked(team.file("anna"), twelfth) == [("rear-a/12 of anna",), ("rear-a/12 of bo",)]
    asks = team.on("anna", "record", "build", "rear-a/12", "note=whose", code=2)
    assert "rear-a/12 of anna" in asks.err
    assert "rear-a/12 of bo" in asks.err
    team.on("anna", "record", "build", "rear-a/12 of bo", "hand_feel=smooth")
    # What Bo called rear A is Anna's rear-a.
    team.on("anna", "join", "diff", "rear-a", "rear A")
    # Cy takes Bo's file, then Anna's as she has it now, by an export.
    team.on("cy", "merge", team.file("bo"))
    exported(team, "anna")
    team.on("cy", "merge", team.folder / "season-anna", code=1)
    # Bo gets Cy's in a zip for the chat, with the files.
    weekend_of_cy = team.folder / "weekend-cy.zip"
    team.on("cy", "export", "--since", "2020-01-01", weekend_of_cy, "--with-files")
    team.on("bo", "merge", weekend_of_cy, code=1)
    # The clash is settled on one laptop: the dry mass that Bo read holds.
    listed = team.on("cy", "check", code=1)
    assert "rear-a/11" in listed.out
    team.on("cy", "merge", "--settle", "build rear-a/11", "12.43")
    team.on("anna", "merge", team.file("cy"))
    team.on("bo", "merge", team.file("anna"))
    found = {name: exported(team, name) for name in ("anna", "bo", "cy")}
    assert found["anna"] == found["bo"] == found["cy"]
    for name in found:
        everything_is_there(team.file(name))
    # Once more does no harm.
    again = team.on("bo", "merge", team.file("cy"))
    assert "here already" in again.out
    assert exported(team, "bo") == found["bo"]


def everything_is_there(file: Path) -> None:
    """What each of them wrote."""
    assert asked(file, "SELECT dry_mass_g FROM builds WHERE label = 'rear-a/11'") == [(12.43,)]
    past = {
        row[0]
        for row in asked(file, "SELECT json_extract(content, '$.dry_mass_g') FROM history WHERE table_name = 'builds'")
    }
    assert {12.42, 12.46} <= past
    assert asked(file, "SELECT count(*) FROM clashes") == [(0,)]
    assert asked(file, "SELECT count(*) FROM calculations") == [(1,)]
    assert asked(file, "SELECT count(*) FROM photos p JOIN picture_bytes b ON b.sha256 = p.picture") == [(1,)]
    assert asked(file, "SELECT count(*) FROM note_files") == [(2,)]
    # last year's rows once: Anna and Cy brought in the same sheet, and Cy the one that it grew into
    assert asked(file, "SELECT count(*) FROM runs WHERE note_file IS NOT NULL") == [(3,)]
    assert asked(file, "SELECT count(*) FROM entries WHERE took_back IS NOT NULL") == [(1,)]
    # the run of Bo's rear A counts for the diff that it is one with
    (shown,) = asked(
        file,
        "SELECT d.label FROM run_diffs x JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff "
        "JOIN runs r ON r.id = x.run WHERE r.run_on = '2026-05-03'",
    )
    assert shown == ("rear-a",)
