"""What screens are made of: filters, verdict, evidence, export, empty state."""
