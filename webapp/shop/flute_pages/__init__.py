"""A flute's own page for life: its address, what it says, and the shop's words on all of them.

Used by pages and papers. Must not know customers: nothing of a page says whose a flute is.
"""
