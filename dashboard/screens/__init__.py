"""One file per screen; Streamlit runs them as pages."""
