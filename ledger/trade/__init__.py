"""What is recorded: frozen models in the trade's words."""
