"""The comeback register: vehicles that came back, to us or from elsewhere, and what can be told from their number."""
