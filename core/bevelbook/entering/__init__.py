"""A record as a person types it: read, checked, written."""
