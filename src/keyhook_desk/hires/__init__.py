"""Hires: search, edit, import, and the page that answers will it carry them."""
