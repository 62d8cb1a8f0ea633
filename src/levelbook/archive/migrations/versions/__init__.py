"""The steps of the schema; each can be gone up and down with data in it."""
