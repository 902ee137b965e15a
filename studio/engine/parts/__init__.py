"""What a field is made of: lengths, pieces, litres and how bars are cut."""
