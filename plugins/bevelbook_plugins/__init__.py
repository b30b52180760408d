"""The bundled calculators. They come in through the same entry points as anybody's."""
