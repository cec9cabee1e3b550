"""Keeping the shop's data safe: backups, restoring them, moving between databases, looking after the installation."""
