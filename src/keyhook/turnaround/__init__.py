"""turnaround."""
