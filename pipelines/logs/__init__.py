"""Exports in: which table a file holds, what its headings and words mean, and what becomes of each of its lines."""
