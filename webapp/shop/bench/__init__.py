"""The tuning bench: readings heard, cuts made, the flute as it is now, how flutes came out.

Used by learning, advice and the bench page. Does not choose the next cut: advice does.
"""
