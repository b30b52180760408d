"""What everything is declared with: fields, sources, words, errors. No input or output."""
