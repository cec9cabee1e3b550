"""Papers of the shop as PDF."""
