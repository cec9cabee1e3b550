"""Pages of the shop itself: settings, routings, calendar, backups, guide, search, tables.

Thin: parse, call webapp.shop, render.
"""
