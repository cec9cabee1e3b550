"""Papers for the customer: quote, confirmation, packing slip, tuning record, care sheet.

Used by order pages. Reads the shop; changes nothing.
"""
