"""How late the lamp goes dark: the keeper's lights under load, and a thread beside the page for comparison."""
