"""The words that records choose from, as ``bevelbook.vocabulary`` lists them: plugins take them without any record."""

from __future__ import annotations

from bevelbook.vocabulary import *  # noqa: F403
