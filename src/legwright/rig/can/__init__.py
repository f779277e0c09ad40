"""CANopen with CiA 402 servo drives: the real rig, and simulated drives that stand in for it."""
