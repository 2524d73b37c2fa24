"""Estimates: counts in, numbers with their intervals out. Pure: no clock, no file, no connection."""
