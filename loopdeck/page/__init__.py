"""The page: what was played, written down once for all that print it, and the ways to print it."""
