"""Results in sentences, a file for each kind."""
