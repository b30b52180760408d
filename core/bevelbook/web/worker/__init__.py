"""Calculators in processes of their own: what they do there cannot hold up, fill or end the server."""
