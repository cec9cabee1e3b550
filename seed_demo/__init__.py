"""An invented shop for demos, screenshots and tests."""
