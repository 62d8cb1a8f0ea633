"""What was written down on site: the level-book document, read, checked and written."""
