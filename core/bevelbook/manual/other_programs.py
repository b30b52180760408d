"""Other programs: tables for a spreadsheet and for engines that gather the files of many teams, and calculators."""

from __future__ import annotations

from typing import Final

from bevelbook.manual.calculators_for_programs import sections_of_calculators
from bevelbook.manual.contents import Bullets, CommandLine, ManualPage, Paragraph, Section

TOPIC: Final = "programs"
EACH_TEAM: Final = "bevelbook export --table runs --names --parquet runs.parquet"
DUCKDB_QUERY: Final = """\
SELECT filename, count(*) AS runs, count(DISTINCT run_on) AS days,
       min(best_lap_s) AS best_lap_s
FROM read_parquet('*/runs.parquet', union_by_name = true, filename = true)
GROUP BY filename ORDER BY filename;"""
"""For DuckDB, in the folder that has a folder for each team."""
SPARK_QUERY: Final = """\
from pyspark.sql import functions as F
runs = spark.read.option("mergeSchema", "true").parquet("*/runs.parquet")
teams = runs.withColumn("filename", F.input_file_name()).groupBy("filename")
teams.agg(F.count("*").alias("runs"), F.countDistinct("run_on").alias("days"),
          F.min("best_lap_s").alias("best_lap_s")).orderBy("filename").show()"""
"""The same for Spark, in a PySpark shell."""
PANDAS_LINE: Final = "pandas.read_parquet('runs.parquet', dtype_backend='numpy_nullable')"


def other_programs_page() -> ManualPage:
    """How a table comes into a spreadsheet or an engine and what is in its file, and how calculators are called."""
    return ManualPage(
        TOPIC,
        "Other programs",
        "Any table, view or listing goes into a file of its own: CSV for a spreadsheet, NDJSON for a script, Parquet "
        "for an engine. 'bevelbook export --list' lists them. Calculators work out whole tables, and answer "
        "notebooks and programs.",
        (
            Section(
                "A spreadsheet",
                (
                    CommandLine("bevelbook export --table build_sheet --csv builds.csv"),
                    Paragraph(
                        "It is UTF-8 with commas and decimal points: where the spreadsheet asks, say so. Views such as "
                        "build_sheet, what_worked, shelf and imported_notes have the names of diffs, oils and people. "
                        "A table of records has ids in their place, which other programs need; --names puts the name "
                        "beside each."
                    ),
                    CommandLine("bevelbook export --table runs --names --csv -"),
                    Paragraph(
                        "What 'bevelbook check', 'bevelbook history' and 'bevelbook calls --list' print are tables as "
                        "well: findings, entries_in_words and runs_without_call."
                    ),
                    Paragraph(
                        "With - the table goes to standard output, for another program to read on. A file that is "
                        "there is left alone unless you add --replace."
                    ),
                ),
            ),
            Section(
                "What is in the file",
                (
                    Bullets(
                        (
                            "The columns are those of the database: 'bevelbook help tables/runs' has each with its "
                            "unit. Rows stand in the order of the pages.",
                            "Numbers have all their digits. What is empty stays empty; in NDJSON it is null.",
                            "In Parquet a day is a date, a whole number has 64 bits, a quantity is a double; the "
                            "metadata of a column has its title, what it holds, its unit and the code of the unit in "
                            "UCUM. Lists and values as typed stay JSON text.",
                            "In CSV a text that a spreadsheet would run has an apostrophe before it, as in a data "
                            "package; NDJSON and Parquet have the text itself.",
                            "An infinite number, which only another program can have written, is empty.",
                            "In an invented database Parquet says so (invented: true); CSV and NDJSON have no place "
                            "for it, and the command says it instead.",
                        )
                    ),
                    Paragraph("Parquet needs pip install 'bevelbook[parquet]'."),
                ),
            ),
            Section(
                "Many teams, one engine",
                (
                    Paragraph("Each team writes its runs, and sends the file:"),
                    CommandLine(EACH_TEAM),
                    Paragraph(
                        "Put each into a folder named like the team. Older files may lack newer columns; the columns "
                        "go together by name. DuckDB:"
                    ),
                    CommandLine(DUCKDB_QUERY),
                    Paragraph("Spark, in a PySpark shell:"),
                    CommandLine(SPARK_QUERY),
                    Paragraph("One file in pandas, with whole numbers that may be empty:"),
                    CommandLine(PANDAS_LINE),
                    Paragraph(
                        "Two teams may have the same id for the same name, such as a track: keep the file beside it. "
                        "The files hold the names of people and what they noted: gather them with their consent."
                    ),
                ),
            ),
            *sections_of_calculators(),
        ),
    )
