"""Codes and numbers as sentences; nothing is computed here."""
