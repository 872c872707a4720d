"""Read exports in whatever shape they come, and say how they were read."""
