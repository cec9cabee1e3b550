"""Learning from finished flutes: the evidence of each flute, and the shop's corrections from all.

Used by the shop's learning. Knows no bench and no order.
"""
