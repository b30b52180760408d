"""What is said of records and facts: typed results that commands and pages show."""
