"""A hire: who travels, who drives, what they take, where they go and when."""
