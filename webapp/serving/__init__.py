"""How the server's process is set, and what every answer goes through: the log, the counts, compression.

Used by the command, the app and the workers. Knows nothing of the shop.
"""
