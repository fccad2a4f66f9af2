"""A recipe carried over to another size, aperture, paper, dry-down or flash."""
