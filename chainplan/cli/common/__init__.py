"""What all commands share: how one is entered, run, and told."""
