"""Patterns: a flute's dimensions for a key in numbered revisions, designed, imported, compared.

Used by orders and blanks. Knows no blank made from them.
"""
