"""The Datasette plugin: read-only databases, policy, metadata, what its own pages are given."""
