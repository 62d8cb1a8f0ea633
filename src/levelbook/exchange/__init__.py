"""In and out: tables and outlines read without retyping, and files that others can open."""
