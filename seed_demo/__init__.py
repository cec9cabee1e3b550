"""An invented shop with most of a year of work, for demos, screenshots and tests. Nobody in it is real."""
