"""Advice for a blank: the next cut, what voicing comes to, which other keys it can become.

Used by the bench page, production and the API. Asks acoustics.tuning; changes nothing.
"""
