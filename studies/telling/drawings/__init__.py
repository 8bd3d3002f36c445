"""Results in figures, a file for each kind."""
