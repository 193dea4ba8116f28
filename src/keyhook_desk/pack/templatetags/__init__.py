"""Words of the pack in templates."""
