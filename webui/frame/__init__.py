"""What stands around every page: who may come in, what is refused, what is next."""
