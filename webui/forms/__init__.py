"""What is typed on pages, turned into what the desk is asked."""
