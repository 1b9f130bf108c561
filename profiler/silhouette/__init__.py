"""What is not the mat: the silhouette of the instrument against the known ground."""
