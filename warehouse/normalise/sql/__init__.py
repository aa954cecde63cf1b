"""SQL of the pass from text records to readings and rejects."""
