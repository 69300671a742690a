"""Where entries stand, so that they move no more often than people must know."""
