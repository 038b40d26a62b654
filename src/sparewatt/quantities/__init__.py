"""The vocabulary: each quantity has one name, one unit and one sign."""
