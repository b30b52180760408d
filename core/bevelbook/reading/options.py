"""What a person may say of a file so that a reading that is ambiguous, or refused, has one outcome."""

from __future__ import annotations

from enum import Enum


class ReadingOption(Enum):
    """A way to settle how a file is read; its value is the name under which a profile holds it.

    Only an import has these options: a value typed by hand is written so that it can be read in one way.
    """

    DECIMAL_MARK = "decimal"
    DATE_ORDER = "date_order"
    TEMPERATURE_UNIT = "temp_unit"
    DATE_BASE = "date_base"
    YEAR = "year"
    ENCODING = "encoding"
    HEADER_LINE = "header_line"
    LINES = "lines"
    COLUMNS = "columns"
    PROPOSALS = "accept_map"
    OUT_OF_RANGE = "allow_out_of_range"
    CONSTANT = "set"
    AS_ABOVE = "as_above"
    TRANSPOSE = "transpose"
    SHEET = "sheet"
    SHEET_AS_DIFF = "sheet_as_diff"
