"""The data in open forms: an export of everything that comes back unchanged, and any table alone."""
