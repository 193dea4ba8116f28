"""What is known of fittings, tasks, kit and charges, shipped as data and read once."""
