"""Hand control: a game controller on the robot."""
