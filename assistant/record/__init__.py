"""The record: the only room that opens SQLite."""
