"""The bundled calculators. They are loaded through the same entry points as anyone else's."""
