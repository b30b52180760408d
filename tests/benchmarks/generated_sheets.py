"""Sheets of notes for the benchmarks, of any length: builds only, and builds with runs and weighings. All invented."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path
from typing import Final

BUILDERS: Final = ("ana", "bo", "cy", "dee")
FIRST_DAY: Final = date(2020, 1, 1)
ROWS_OF_A_BUILD: Final = 5
"""Of the mixed sheet."""


def write_fills(path: Path, rows: int) -> None:
    """Builds of 5,000 diffs over 1,000 days, no two alike; every 100,000th row has an oil mass that is not a number."""
    with path.open("w", encoding="utf-8") as file:
        file.write("date,builder,unit,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst\n")
        days = [(FIRST_DAY + timedelta(days=n)).isoformat() for n in range(1000)]
        for i in range(rows):
            dry, oil = 20 + (i % 300) / 100, 1 + (i % 80) / 100
            poured = "abc" if i % 100_000 == 99_999 else f"{oil:.2f}"
            builder, viscosity_cst = BUILDERS[i % 4], 1000 * (1 + i % 20) + i // 30_000
            file.write(
                f"{days[i % 1000]},{builder},U{i % 5000:05d},{dry:.2f},{poured},{dry + oil:.2f},{viscosity_cst}\n"
            )


def write_mixed(path: Path, rows: int) -> None:
    """Builds of 1,000 diffs; each is filled, run twice with the diff's temperature, weighed, and run once more."""
    names = "date builder diff dry_mass_g oil_mass_g total_mass_g viscosity_cst venue grip track_temp_c diff_temp_c "
    names += "runs call result_note"
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, names.split(), restval="", lineterminator="\n")
        out.writeheader()
        for i in range(rows // ROWS_OF_A_BUILD):
            first = FIRST_DAY + timedelta(days=i % 1000 + 6 * (i // 1000) % 365)
            dry, oil = 12 + (i % 300) / 1000, 1.8 + (i % 30) / 1000
            day = [(first + timedelta(days=n)).isoformat() for n in range(ROWS_OF_A_BUILD + 1)]
            of = {"builder": BUILDERS[i % 4], "diff": f"U{i % 1000:04d}"}
            at = {"venue": f"Hall {i % 9}", "grip": ("low", "medium", "high")[i // 7 % 3]}
            out.writerow(
                {**of, "date": day[0], "dry_mass_g": f"{dry:.2f}", "oil_mass_g": f"{oil:.2f}"}
                | {"total_mass_g": f"{dry + oil:.2f}", "viscosity_cst": 1000 * (1 + i % 20)}
            )
            for n in range(2):
                out.writerow(
                    {**of, **at, "date": day[n + 1], "track_temp_c": 20 + n, "diff_temp_c": 40 + i % 30 + n}
                    | {"runs": n + 1, "call": "keep", "result_note": f"felt fine {i} {n}"}
                )
            out.writerow({**of, "date": day[4], "total_mass_g": f"{dry + oil - (i % 3) / 100:.2f}"})
            out.writerow(
                {**of, **at, "date": day[5], "track_temp_c": 25, "runs": 2, "call": "change"}
                | {"result_note": f"loose exit {i}"}
            )
