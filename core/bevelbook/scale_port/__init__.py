"""A scale that speaks: its lines cut out of what a port brings, read, and the last reading kept."""
