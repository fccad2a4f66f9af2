"""What the command line does beside serving."""
