"""Formulas that two or more calculators share: plain floats, units in the names, a source in every docstring."""
