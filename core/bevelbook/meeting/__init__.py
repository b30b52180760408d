"""Two databases meeting: all that either holds, and what follows from that."""
