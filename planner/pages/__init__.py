"""The app, one file a page; `main.py` lists them."""
