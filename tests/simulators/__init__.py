"""Players and pickups made of numbers, for tests."""
