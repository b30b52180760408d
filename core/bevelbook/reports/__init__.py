"""Reports on records and facts: typed results that commands and pages show."""
