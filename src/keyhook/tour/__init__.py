"""tour."""
