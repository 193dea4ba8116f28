"""The desk: stores rows, shows pages, knows the clock, and calls the pure library."""
