"""Who may do what: people's PINs and passwords, tablets, log-ins."""
