"""A copy of a database kept beside it, and the way back."""
