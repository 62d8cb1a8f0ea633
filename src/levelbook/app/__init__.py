"""The app: a small web server over the store, and the pages that it hands out."""
