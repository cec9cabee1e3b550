"""What every operation of the API stands on: the application, who is asking, repeats, problems, the description.

The nouns' routers use it; it knows none of them but in `application`.
"""
