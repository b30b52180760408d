"""Reports for commands and pages: what the facts come to for a person, as typed results."""
