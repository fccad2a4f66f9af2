"""What a printer means, and what really happened. It knows nothing of HTTP."""
