"""The life of the daemon as a service."""
