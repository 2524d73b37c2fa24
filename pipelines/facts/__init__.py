"""What the logs say: the histories of sticks, built and read by SQL alone."""
