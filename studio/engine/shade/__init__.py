"""What stands in the light: mirrors of other lines, and the receivers, pipes and frames that move above them."""
