"""The invented season: its files, and the database made from them."""
