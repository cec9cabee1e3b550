"""Files that a browser is given: our own, its library's and the typefaces, each under an address that changes with it.

For every page. Knows nothing of the shop.
"""
