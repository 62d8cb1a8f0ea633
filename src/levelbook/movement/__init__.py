"""Visit against visit."""
