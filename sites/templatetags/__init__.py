"""Template tags of places and work."""
