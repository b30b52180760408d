"""What to do before an event: with which diff, which oil, which parts, in what order, and how long it takes."""
