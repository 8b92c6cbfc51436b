"""What broke: end states of a lamp, ranked by how well each explains what a person read and saw."""
