"""The yard on a day: returns, departures, gates."""
