"""Pictures as they come from a camera, made into what is kept: upright, small enough, without metadata."""
