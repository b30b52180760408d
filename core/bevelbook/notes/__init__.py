"""A file of notes into records: bytes, text, table, headings, columns, rows, placing."""
