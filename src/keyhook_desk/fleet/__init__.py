"""Build sheets and vehicles as rows; one file turns them into the pure records."""
