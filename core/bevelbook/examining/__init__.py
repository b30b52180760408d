"""A plugin examined before it is used: its worked examples run, what it declares looked at, in a process of its own."""
