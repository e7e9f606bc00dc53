"""The comeback register: what came back, after which work, how soon, and what it cost."""
