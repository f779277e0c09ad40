"""The robot, simulated or real, behind one protocol."""
