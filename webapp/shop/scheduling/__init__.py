"""Scheduling: working days, the queue and its simulation, promised dates, the calendar feed.

Used by order pages and costs. Reads orders and blanks; changes only promises and hours.
"""
