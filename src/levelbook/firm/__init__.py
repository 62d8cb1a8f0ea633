"""A firm: its people and what each may do, review and release, links, instruments, search."""
