"""A diff as people know it: its name, and what marks its case."""

from __future__ import annotations


def with_mark(name: str, mark: str | None) -> str:
    """The name of a diff, or of one of its builds, with the mark on the case where it has one.

    >>> with_mark("rear-a", "two yellow dots"), with_mark("rear-a/3", None)
    ('rear-a (two yellow dots)', 'rear-a/3')
    """
    return f"{name} ({mark})" if mark else name
