"""Statistics with typed results: lines, proportions, ordering, spread."""
