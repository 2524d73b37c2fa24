"""Example data: an invented repair fleet with a known truth, made at any size by a seeded program."""
