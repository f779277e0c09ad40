"""Bring-up: from a box of drives to a robot whose joints are known."""
