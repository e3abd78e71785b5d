"""What the logs observed of the fractures there are: the share logged, and the share oriented."""
