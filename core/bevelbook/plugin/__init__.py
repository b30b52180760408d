"""What a plugin offers, and how it is found, checked against its declaration, and called."""
