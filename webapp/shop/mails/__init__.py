"""Mails about an order, drafted in the shop's words and opened in a person's own mail program; none is ever sent.

Used by pages and the API. Knows nothing of mail servers.
"""
