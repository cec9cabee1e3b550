"""Contacts: enquiries that name no flute yet, customers who turn out to be one, and those who want to be taken out.

Used by pages and the API. Knows nothing of how orders move once they are complete.
"""
