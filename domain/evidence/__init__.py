"""Figures for the visit: what weeks of readings show, and how sure that is.

Values in, values out; nothing here has words or knows a clock. Readings become daily values
in one place (`days.py`); everything else works on those arrays. Pressures in mmHg.
NumPy is loaded here and nowhere else in the domain: what must start quickly keeps away.
"""
