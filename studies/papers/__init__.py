"""Papers for the workshop: pieces laid out on stock sheets at full size, and the list of what to cut."""
