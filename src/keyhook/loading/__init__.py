"""loading."""
