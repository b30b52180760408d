"""Who may write: the phones that are paired and the code that pairs the next one. Nothing here knows Datasette."""
