"""What is kept: the record of entries, stores, seals; files and keys enter here."""
