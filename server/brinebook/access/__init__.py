"""Who may see and write what; invitations and devices. No SQL."""
