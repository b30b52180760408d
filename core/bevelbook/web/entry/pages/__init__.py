"""A page that writes per file, named like its address below ``/DATABASE/-/enter/``."""
