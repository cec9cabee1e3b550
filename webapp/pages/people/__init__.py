"""Pages of people: signing in, second steps, one's own page, roles, invitations, API keys.

Thin: parse, call webapp.shop, render.
"""
