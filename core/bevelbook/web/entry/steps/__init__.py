"""A screen of the bench per file: what a step of the work shows, and the records that it writes."""
