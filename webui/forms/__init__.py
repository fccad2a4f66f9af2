"""What is typed on pages, kept letter for letter and turned into what the desk is asked."""
