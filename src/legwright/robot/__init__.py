"""What the robot is: build sheet and URDF in, `Robot` out."""
