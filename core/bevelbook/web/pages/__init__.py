"""The pages, one file per address, named like it and its template."""
