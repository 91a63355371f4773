"""The whole job: from a study to a plan."""
