"""Keyhook: pure answers about hire vehicles. No database, clock, environment or hidden randomness."""
