"""Each person's own list on the phone: the next task, the rest of the day, started, done, problem."""
