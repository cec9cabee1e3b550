"""Orders: customers, flutes ordered, what was agreed, papers issued, prices, payments.

Used by production, scheduling and costs. Does not open blanks.
"""
