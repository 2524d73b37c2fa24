"""Answer records as plotly figures, for the screens and for reports."""
