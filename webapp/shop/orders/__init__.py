"""Orders: customers, flutes ordered, what was agreed, papers given out, prices, payments.

Used by production, scheduling and costs. Does not open blanks.
"""
