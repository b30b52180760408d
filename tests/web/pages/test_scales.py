"""What the page of all scales asks of the database."""

from __future__ import annotations

import sqlite3

from constructed import Add

from bevelbook.web.pages.scales import scales_page_of


def test_all_scales_are_listed_with_what_each_sees(add: Add, connection: sqlite3.Connection) -> None:
    """1.96 sqrt(2 (0.1^2 / 12 + 0.1^2)) = 0.29 g: one step assumed (our own figure), and
    1.96 sqrt(2 (0.1^2 / 12 + 2 x 0.1^2)) = 0.40 g between days."""
    add("scale", name="pocket", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.004)
    add("scale", name="kitchen", step_g=0.1)
    found = scales_page_of(connection).scales
    assert [(one.name, one.is_checked, one.sees) for one in found] == [
        ("kitchen", False, "0.29 g on one day, 0.4 g from one day to another (one step assumed from day to day)"),
        ("pocket", True, "0.016 g on one day, 0.019 g from one day to another"),
    ]
