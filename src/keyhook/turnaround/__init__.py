"""Will it be ready: a plan for the people, places and vehicles of one day, and what it is worth."""
