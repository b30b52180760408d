"""A book as files that any web space serves, and that open from a folder: the served pages, written down."""
