"""What every page stands on: the request at work, forms, rendering, failures, files, PDFs.

Used by all pages. Knows no screen.
"""
