"""What a landscape designer takes over: a drawing, a plan at true scale, bloom by month, a section."""
