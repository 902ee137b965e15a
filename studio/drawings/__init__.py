"""What is drawn, as display data in metres. No Qt."""
