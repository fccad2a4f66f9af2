"""Negatives: whole films and sets of sheet film with their proofs, frame by frame; pure."""
