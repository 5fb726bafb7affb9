"""Heat, from the network and the times as they are written."""
