"""What a plugin offers, how it is found, held against what it declares, and called."""
