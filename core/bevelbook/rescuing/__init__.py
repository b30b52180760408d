"""What can still be read of a damaged database: pages -> rows -> a clean database -> an export, and what is missing."""
