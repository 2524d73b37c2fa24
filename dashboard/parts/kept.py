"""What keeps a choice in the address of the page, and carries it along to the other screens."""

from __future__ import annotations

from collections.abc import Collection

import streamlit as st

KEPT = {"bind": "query-params", "persist_state": "session"}


def kept_batch(names: Collection[str]) -> dict[str, str]:
    """Return the words of the box in which a batch is picked, one for all screens; forget one that this screen does not offer."""
    if "batch" in st.session_state and st.session_state["batch"] not in names:
        del st.session_state["batch"]
    return {"key": "batch", **KEPT}
