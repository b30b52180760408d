"""What the pages say where they are written as files, for any web space and for a folder opened by itself."""

from __future__ import annotations

from typing import Final, NamedTuple

POLICY_IN_PAGE: Final = "; ".join(
    (
        "default-src 'none'",
        "img-src 'self' data:",
        "style-src 'self' 'unsafe-inline'",
        "script-src 'self'",
        "form-action 'none'",
        "base-uri 'none'",
    )
)
"""What a page itself can say where nobody sends a header with it: nothing is fetched but files of the copy."""


class CopyToRead(NamedTuple):
    """A copy of a book as pages, and as of when, in words."""

    as_of: str

    @property
    def policy(self) -> str:
        """The content security policy of every page."""
        return POLICY_IN_PAGE
