"""Labels for the bag, the bottle and the tin: contents, and their sheets as HTML and PDF."""
