"""What keeps a choice in the address of the page, and carries it along to the other screens."""

KEPT = {"bind": "query-params", "persist_state": "session"}
