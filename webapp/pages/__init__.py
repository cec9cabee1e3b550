"""One file per screen: read the form, call the shop, render."""
