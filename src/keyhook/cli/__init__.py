"""The calculators on the command line: read a depot folder, answer one question, say why."""
