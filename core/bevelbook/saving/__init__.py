"""A record saved with all that follows from it, for the command line and for the pages that write."""
