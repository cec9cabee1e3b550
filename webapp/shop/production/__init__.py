"""Production: blanks opened, steps recorded and gauged, defects decided, repairs carried out.

Used by pages and API. Stands above orders, blanks, stock and learning, and calls them.
"""
