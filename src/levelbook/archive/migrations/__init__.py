"""How the schema of the store came to be, one step a file, for both databases."""
