"""The web layer: read the form, call one service, choose a page."""
