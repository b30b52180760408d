"""Formulas with their verdicts: pure functions of numbers, on which shelf, card, pages and calculators rest."""
