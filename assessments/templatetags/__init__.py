"""Tags of the bench pages: the lash map of a set document in words and as a drawing."""
