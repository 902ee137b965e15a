"""Heights from files: look at them as they would be taken, then take them."""
