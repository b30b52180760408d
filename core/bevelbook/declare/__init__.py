"""What declarations are made of: fields, sources, words, errors. No input or output."""
