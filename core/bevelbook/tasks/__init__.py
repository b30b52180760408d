"""What a command and a page both do."""
