"""Results that version 0.1.0 kept automatically, and that are facts now: oil lost by a build, viscosity of its oil in a
run.

They are recognised by their outputs, not by the calculator's name. A result with anything typed by a person stays, and
so does one that differs from the facts.
"""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.facts.answered_results import IS_OIL_LOST, IS_VISCOSITY_WHEN_WARM

LAST_STEP_THAT_KEPT_THEM: Final = 2
_OF_ITSELF: Final = "NOT EXISTS (SELECT 1 FROM json_each(c.origins) o WHERE o.value = 'given')"
_SAME_G: Final = 1e-6
_SAME_SHARE: Final = 1e-6
_AGREEING: Final = f"""
SELECT c.calculator, c.subject_table, c.subject_id
FROM calculations c JOIN build_facts k ON k.build = c.subject_id
WHERE c.subject_table = 'builds' AND {_OF_ITSELF} AND {IS_OIL_LOST}
      AND abs(json_extract(c.found, '$.loss_g') - k.loss_g) <= {_SAME_G}
UNION
SELECT c.calculator, c.subject_table, c.subject_id
FROM calculations c JOIN run_diff_facts n ON n.run_diff = c.subject_id
WHERE c.subject_table = 'run_diffs' AND {_OF_ITSELF} AND {IS_VISCOSITY_WHEN_WARM}
      AND abs(json_extract(c.found, '$.viscosity_at_temperature_cst') - n.viscosity_at_diff_temperature_cst)
          <= {_SAME_SHARE} * n.viscosity_at_diff_temperature_cst
"""


def drop_results_that_are_facts(connection: sqlite3.Connection) -> int:
    """Remove them if the facts agree, with earlier ones of the same record; returns how many.

    Runs inside the caller's transaction, after the facts were worked out.
    """
    return connection.execute(
        f"""
        DELETE FROM calculations AS c WHERE {_OF_ITSELF}
        AND (c.calculator, c.subject_table, c.subject_id) IN ({_AGREEING})
        """
    ).rowcount
