"""Tests of what spoils prints unseen, pure: what each found, what follows from an answer, when it is due again."""
