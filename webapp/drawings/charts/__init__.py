"""Charts: cents, fingerings, the dial, spreads, voicing, yields.

Used by pages and papers. Figures in, drawing out.
"""
