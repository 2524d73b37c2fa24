"""The evidence pack of a supplier batch: made, opened again, and worked out anew from the raw files."""
