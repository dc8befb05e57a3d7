"""Data only: what is asked, what may be answered, what is said. Read by assistant.language."""
