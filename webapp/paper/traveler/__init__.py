"""The build traveler: what stands on it, how dense it is set, and batches of them.

Used by blank pages. Reads the shop; changes only print runs.
"""
