"""A team's limit as it is typed: its number goes by its kind, runs, grams, uses or a share of the oil."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING, Final

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.vocabulary import SHARE_LIMITS
from bevelbook.formulas.oil_limits import limit_share_in_words, limit_value_in_words

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

MOST_SHARE: Final = 0.5
"""A limit over this share of the oil is asked about (our own figure): a diff that lost half its oil is not run."""


def with_limit_unit(connection: sqlite3.Connection, entry: PreparedRecord) -> PreparedRecord:
    """The record, with the limit in its unit as a remark, and a share over a half as something to confirm.

    Raises InputError for a share of more than all the oil, and for a percentage of what is not a share.
    """
    from bevelbook.entering.record import OddValue

    if entry.kind.name != "limit" or not {"kind", "value"} & entry.values.keys():
        return entry
    row = connection.execute("SELECT kind, value FROM limits WHERE id = ?", (entry.row_id,)).fetchone()
    held = dict(zip(("kind", "value"), row, strict=True)) if row else {}
    kind, value = ({**held, **entry.values}[name] for name in ("kind", "value"))
    text = entry.entered.get("value", "")
    if kind not in SHARE_LIMITS:
        if "%" in text:
            raise InputError(
                f"a limit of {kind} is not a percentage",
                code="not_a_share",
                place=Place(field="value"),
                found=text,
                remedy=Sentence("Give ", Named("kind", SHARE_LIMITS[0]), ", or a plain number."),
            )
    elif value > 1.0:
        raise InputError(
            f"as a share, {value:g} is {limit_share_in_words(value)} of the oil, more than all of it",
            code="share_over_one",
            place=Place(field="value" if "value" in entry.values else "kind"),
            found=text or None,
            remedy=f"For {value:g} % type '{value:g} %' or {value / 100:g}."
            if value <= 100.0 * MOST_SHARE
            else "Type a share of the oil, such as '5 %' or 0.05.",
        )
    elif value > MOST_SHARE:
        field = entry.kind.field("value")
        outside = f"{limit_share_in_words(value)} of the oil, more than half of it"
        odd = OddValue(field, text, outside, f"a limit of {value:g} is {outside}")
        entry = entry._replace(odd=(*entry.odd, odd))
    return entry._replace(remarks=(*entry.remarks, _remark(kind, value)))


def _remark(kind: str, value: float) -> str:
    if value == 0.0:
        return f"That removes the limit of {kind}."
    return f"The limit of {kind} is {limit_value_in_words(kind, value)}."
