"""Lights: what the robot shows of its state."""
