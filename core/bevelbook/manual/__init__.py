"""The manual: a page for each topic, made from the objects that it describes, for the terminal and for the browser."""
