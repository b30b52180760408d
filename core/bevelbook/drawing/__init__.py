"""Charts as SVG, drawn by a library without a browser or the network: for pages, the card, and files sent to a mate."""
