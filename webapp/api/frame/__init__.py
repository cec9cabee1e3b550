"""What every operation of the API stands on: who is asking, repeats, problems, rows as JSON, the description.

The nouns' routers use it; it knows none of them.
"""
