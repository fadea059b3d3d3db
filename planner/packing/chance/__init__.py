"""A packed day played many times, and packed for a chance; the doors are `play.py` and `on_time.py` above."""
