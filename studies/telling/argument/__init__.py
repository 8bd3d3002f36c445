"""A run as an argument: what is recommended, why, at what cost, and what would change it."""
