"""Records that are one with another, as SQL: lists leave them out, and who asks for one gets what stands for it.

The table ``one_with`` says which those are; ``store/as_written.py`` works it out.
"""

from __future__ import annotations


def stands_alone_sql(kind_name: str, row_id: str = "id") -> str:
    """The condition for a record for which no other one stands.

    >>> stands_alone_sql("diff", "d.id")
    "d.id NOT IN (SELECT o.id FROM one_with o WHERE o.kind = 'diff')"
    """
    return f"{row_id} NOT IN (SELECT o.id FROM one_with o WHERE o.kind = '{kind_name}')"


def standing_sql(kind_name: str, row_id: str = "id") -> str:
    """The id of what stands for a record: its own, where nothing else does."""
    return f"coalesce((SELECT o.stands FROM one_with o WHERE o.kind = '{kind_name}' AND o.id = {row_id}), {row_id})"
