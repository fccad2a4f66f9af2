"""What the tests stand on: benches, drivers, stand-ins, laws and invented evenings."""
