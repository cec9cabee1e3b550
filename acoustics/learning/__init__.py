"""What finished flutes teach: evidence of each flute, and the shop's corrections from all.

Used by the shop's learning. Calls acoustics.tuning.
"""
