"""Importing a file of notes: bytes, text, table, headings, columns, rows, placing."""
