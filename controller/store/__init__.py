"""What is kept on disk: the journal and the shelf."""
