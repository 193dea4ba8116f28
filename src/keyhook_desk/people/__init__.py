"""Who works here and what they may do."""
