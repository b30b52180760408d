"""Reference tables, citations, procedures and the invented demo; data only, read by ``bevelbook.reference``."""
