"""Formulas shared by two or more calculators: plain floats, units in the names, a source in every docstring."""
