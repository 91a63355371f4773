"""Sun: hours of direct sun from heights, and what people counted."""
