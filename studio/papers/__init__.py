"""What leaves the studio on paper or as a table."""
