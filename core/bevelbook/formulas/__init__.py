"""Formulas with their verdicts: pure functions of numbers that shelf, card, pages and calculators use."""
