"""What ``bevelbook plugin new`` writes: a calculator in one file with its test, or a project around it."""
