"""Paper: prep sheets, labels and riders' cards as PDF."""
