"""What core works out itself, typed: how much oil goes in, how thick it is when warm, what a blend of oils is."""
