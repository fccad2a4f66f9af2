"""Everything that touches a wire. It knows nothing of recipes, sheets' meaning or HTTP."""
