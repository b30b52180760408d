"""Calculators for other programs: a table of rows, a notebook, a server that answers, and all that they declare."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.contents import Bullets, CommandLine, Paragraph, Section

TABLE: Final = """\
oil,viscosity,temperature (°F)
thin,3000,140
thick,10k,"140 ± 2 (k = 2)"
"""
"""A table of two oils."""
ROWS: Final = "bevelbook calc viscosity --rows oils.csv --to warm.csv"
NOTEBOOK: Final = """\
import pandas
from bevelbook import calculate

oils = pandas.DataFrame({"oil": ["thin", "thick"], "cst": [3000, 10000]})
warm = calculate("viscosity", viscosity_cst=oils.cst, temperature_c=60)
oils["warm_cst"] = warm.viscosity_at_temperature_cst.round()
print(oils)"""
PRINTED: Final = """\
     oil    cst  warm_cst
0   thin   3000    1615.0
1  thick  10000    5384.0"""
"""What it prints."""
ONE: Final = 'calculate("viscosity", viscosity_cst="7000 ± 70 (k = 2)", temperature_c="140 °F")'
OF_RECORD: Final = 'calculate("viscosity", db="team.db", for_="rear-a/3", temperature_c=60)'
KEPT_ERRORS: Final = 'calculate("viscosity", viscosity_cst=[3000, -1], temperature_c=60, errors="keep").error'
ADDRESS: Final = "http://127.0.0.1:8001/team/-/calc/viscosity.json?viscosity_cst=7000&temperature_c=140+%C2%B0F"


def sections_of_calculators() -> tuple[Section, ...]:
    """How calculators are used by other programs."""
    return (
        Section(
            "A calculator for a whole table",
            (
                Paragraph("A CSV table, one row for each calculation:"),
                CommandLine(TABLE.rstrip()),
                CommandLine(ROWS),
                Bullets(
                    (
                        "Columns are called as the inputs: viscosity_cst, viscosity, temperature (°F). A cell may have "
                        "a unit of its own, and a ±. Several items of a listing stand in one cell, with ; between.",
                        "The other columns are passed on as they are, and named on standard error; so is a heading "
                        "that is spelt almost like an input.",
                        "Behind them come the outputs, each with its unit, the verdict, the reasons, and error: why a "
                        "row could not be worked out. Such a row stays, and the command ends with 1.",
                        "An input that you give beside the table holds where a row says nothing.",
                        "Commas, semicolons and tabs between cells are seen, and so is a decimal comma that one of the "
                        "first 200 rows shows; the results are written the same way. UTF-8, UTF-16 and cp1252 are "
                        "read, UTF-8 is written.",
                        "With --json there is a line of JSON for each row, with the rows that a calculator finds; with "
                        "--keep each result is kept. Only a part of the table is in memory at a time.",
                    )
                ),
            ),
        ),
        Section(
            "A notebook",
            (
                CommandLine(NOTEBOOK),
                CommandLine(PRINTED),
                Bullets(
                    (
                        "A number is in the unit that the name of the input ends in; a text is read as you would type "
                        "it. What comes out has the names of the outputs, with verdict and reasons.",
                        "A column goes in and a column of the same kind comes out: of pandas with its index, of "
                        "polars, an array of numpy, a list. dict(warm) has all outputs: pandas.DataFrame(dict(warm)) "
                        "is a table of them.",
                        "A row that cannot be worked out ends the call, and the error names the input and the row, "
                        'counted from 1; with errors="keep" it stays empty, and error says why.',
                    )
                ),
                Paragraph("One result, with what it says of itself:"),
                CommandLine(ONE),
                Paragraph("What is not given comes from a record of a database:"),
                CommandLine(OF_RECORD),
                Paragraph("Your own calculators are there with plugins=, the name of their folder."),
            ),
        ),
        Section(
            "A server that answers",
            (
                Paragraph(
                    "Where a book is served, each calculator answers at its page's address with .json behind the name, "
                    "and takes the same arguments as the page:"
                ),
                CommandLine(ADDRESS),
                Bullets(
                    (
                        "The answer is what the command prints for programs. It is a GET, and nothing is written; any "
                        "other method is answered with 405.",
                        "What is refused says so as JSON with code, field, error and remedy: 400 for what was asked "
                        "wrongly, 404 for a calculator that there is not, 500 where a plugin failed, 503 with "
                        "retry-after where a calculation took too long or others wait.",
                        "/-/openapi.json describes all of this, and the rows of tables, as OpenAPI 3.1.",
                        "A copy without a server, as an edition with static pages, answers no calculation.",
                    )
                ),
            ),
        ),
        Section(
            "What they take and give",
            (
                CommandLine("bevelbook calculators --json"),
                Paragraph(
                    "It lists all that each calculator declares: question, inputs and outputs with unit, code of the "
                    "unit in UCUM, bounds and words, worked examples, valid range, sources, cautions, and the JSON "
                    "Schema (2020-12) of inputs, outputs and rows. In the schema our own keywords begin with x-: "
                    "x-unit, x-ucum, x-plausible for the sane range, x-from for the record that gives an input. The "
                    "number under format is raised when a key goes or changes what it means."
                ),
            ),
        ),
    )
