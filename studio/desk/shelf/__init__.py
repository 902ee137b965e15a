"""The shelf on the desk: mirrors kept side by side and ranked, and searches for the best values of one."""
