"""What core says of groups of numbers, typed: two builds by the times of their runs."""
