"""Statics and motion of a robot: kinematics, balance, forces, servo limits, clearance."""
