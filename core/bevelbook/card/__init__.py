"""The card of a build and the sheet of a run: contents, steps, cautions, as text and as HTML."""
