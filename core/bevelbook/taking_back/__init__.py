"""Taking entries back, removing records, and saying in words what an entry wrote."""
