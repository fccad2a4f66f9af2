"""What a printer writes, and the steps it comes to; pure."""
