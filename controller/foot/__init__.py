"""The foot-switch grammar: state + event → state + effects; pure."""
