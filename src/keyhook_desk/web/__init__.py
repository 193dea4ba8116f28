"""Pages everybody shares: base, look, history, errors."""
