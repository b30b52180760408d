"""The invented demo: two seasons of a club team that does not exist. ``make_demo.py`` writes every other file here."""
