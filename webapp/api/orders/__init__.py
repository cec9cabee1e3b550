"""Orders and customers by program: taken, priced, promised, paid, printed, handed over.

One router for each noun; they use `frame` and the shop's rules, and know no page.
"""
