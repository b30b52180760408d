"""Kept results whose question the facts answer: the oil a build lost, the viscosity of its oil in a run.

They are recognised by their outputs, not by the calculator's name. A kept row never changes while the records do; so
pages, views and comparisons show the facts and leave out the verdict of such a row.
"""

from __future__ import annotations

from typing import Final

IS_OIL_LOST: Final = "json_extract(c.found, '$.smallest_loss_seen_g') IS NOT NULL"
"""Whether the row ``c`` of calculations has outputs of ``formulas.leak``."""
IS_VISCOSITY_WHEN_WARM: Final = "json_extract(c.found, '$.ratio_to_25') IS NOT NULL"
"""Whether the row ``c`` of calculations has outputs of ``formulas.oil_at_temperature``."""
_IS_WEIGHED: Final = "EXISTS (SELECT 1 FROM build_facts a WHERE a.build = c.subject_id AND a.leak IS NOT NULL)"


def answered_sql(is_weighed: str = _IS_WEIGHED) -> str:
    """Whether the facts of its build answer what the row ``c`` of calculations answered.

    They do not if the records lack two weighings on one basis, so that a person typed the weighings in; ``is_weighed``
    is the condition for that, for a query that has the facts of the build at hand.
    """
    return f"(c.subject_table = 'builds' AND {IS_OIL_LOST} AND {is_weighed})"
