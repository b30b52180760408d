"""Kept results whose question the facts answer: what a build lost, how thick its oil was in a run.

They are known by what they hold, not by the name of the calculator that made them. A kept row never changes, and the
records go on; so pages, views and comparisons give the word to the facts and leave the verdict of such a row out.
"""

from __future__ import annotations

from typing import Final

IS_OIL_LOST: Final = "json_extract(c.found, '$.smallest_loss_seen_g') IS NOT NULL"
"""Whether the row ``c`` of calculations holds outputs of ``formulas.leak``."""
IS_VISCOSITY_WHEN_WARM: Final = "json_extract(c.found, '$.ratio_to_25') IS NOT NULL"
"""Whether the row ``c`` of calculations holds outputs of ``formulas.oil_at_temperature``."""
_IS_WEIGHED: Final = "EXISTS (SELECT 1 FROM build_facts a WHERE a.build = c.subject_id AND a.leak IS NOT NULL)"


def answered_sql(is_weighed: str = _IS_WEIGHED) -> str:
    """Whether the facts of its build answer what the row ``c`` of calculations answered.

    They do not where the records hold no two weighings on one basis, so that a person typed them in; ``is_weighed`` is
    the condition for that, where the query around has the facts of the build at hand.
    """
    return f"(c.subject_table = 'builds' AND {IS_OIL_LOST} AND {is_weighed})"
